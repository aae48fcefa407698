//go:build outside && linux

package main

import "testing"

// TestAFullDisk runs the scripts of testdata/fulldisk, which need unshare and mount
// (Debian: util-linux, mount).
func TestAFullDisk(t *testing.T) { runScripts(t, "testdata/fulldisk", nil) }
