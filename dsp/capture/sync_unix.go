//go:build !windows

package capture

import (
	"errors"
	"os"
)

// syncFolder makes a new name in a folder durable.
func syncFolder(path string) error {
	d, err := os.Open(path)
	if err != nil {
		return err
	}
	return errors.Join(d.Sync(), d.Close())
}
