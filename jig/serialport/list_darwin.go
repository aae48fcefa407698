//go:build darwin && !cgo

package serialport

import "path/filepath"

// list returns only the names: on macOS the USB identity needs a build with cgo.
func list() ([]Port, error) {
	paths, err := filepath.Glob("/dev/cu.*")
	if err != nil {
		return nil, err
	}
	ports := make([]Port, 0, len(paths))
	for _, path := range paths {
		ports = append(ports, Port{Path: path})
	}
	return ports, nil
}
