package main

import (
	"bytes"
	"compress/gzip"
	_ "embed"
	"io"
)

// After a change of go.mod: go generate ./cmd/headtrue, on a system that has
// the package avr-libc.
//
//go:generate go run ./testdata/licences

//go:embed licences.txt.gz
var packedLicences []byte

// licences returns the licences of all that is built in.
func licences() (string, error) {
	r, err := gzip.NewReader(bytes.NewReader(packedLicences))
	if err != nil {
		return "", err
	}
	text, err := io.ReadAll(r)
	return string(text), err
}
