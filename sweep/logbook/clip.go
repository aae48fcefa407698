package logbook

import (
	"crypto/sha256"
	"encoding/hex"
	"fmt"
	"io"
	"os"
	"path/filepath"

	"headtrue/sweep/record"
)

// ClipOf is what the record keeps of a clip's file.
func ClipOf(path string) (record.Clip, error) {
	file, err := os.Open(path)
	if err != nil {
		return record.Clip{}, fmt.Errorf("keep a clip: %w", err)
	}
	defer file.Close()
	sum := sha256.New()
	n, err := io.Copy(sum, file)
	if err != nil {
		return record.Clip{}, fmt.Errorf("keep a clip: %w", err)
	}
	return record.Clip{Name: filepath.Base(path), SHA256: hex.EncodeToString(sum.Sum(nil)), Bytes: n}, nil
}
