package serialport

import (
	"os"
	"path/filepath"
	"testing"
)

// A board with a USB serial number keeps its identity on any path; one without a number
// is identified by its socket. A path that the next board would get is no identity.
func TestIdentityIsThatOfTheBoard(t *testing.T) {
	dev := t.TempDir()
	for _, name := range []string{"ttyACM0", "ttyACM1", "ttyUSB0", "ttyS0"} {
		if err := os.WriteFile(filepath.Join(dev, name), nil, 0o600); err != nil {
			t.Fatal(err)
		}
	}
	byPath := filepath.Join(dev, "serial", "by-path")
	if err := os.MkdirAll(byPath, 0o700); err != nil {
		t.Fatal(err)
	}
	if err := os.Symlink(filepath.Join(dev, "ttyUSB0"), filepath.Join(byPath, "usb-0:2:1.0")); err != nil {
		t.Fatal(err)
	}
	ports := []Port{{Path: filepath.Join(dev, "ttyACM0"), VendorID: "2341", ProductID: "0043", Serial: "A1"}}
	for name, want := range map[string]string{
		"ttyACM0": "usb 2341:0043 A1", "ttyACM1": "", "ttyUSB0": "bench by-path/usb-0:2:1.0", "ttyS0": "bench " + filepath.Join(dev, "ttyS0"),
	} {
		if got := identity(filepath.Join(dev, name), ports, filepath.Join(dev, "serial"), "bench"); got != want {
			t.Errorf("%s: %q, want %q", name, got, want)
		}
	}
	ports[0].Path = filepath.Join(dev, "ttyACM1") // the same board, plugged in again
	if got := identity(filepath.Join(dev, "ttyACM1"), ports, "", "bench"); got != "usb 2341:0043 A1" {
		t.Errorf("the board on another path is %q", got)
	}
}
