package serialport

import (
	"os"
	"path/filepath"
	"slices"
	"testing"
)

// The tree is that of the kernel (Documentation/ABI/stable/sysfs-bus-usb and sysfs-tty,
// from memory): an adapter has its port folder inside the interface's, a modem has none,
// a UART without hardware has type 0.
func TestListReadsTheKernelsTree(t *testing.T) {
	root := t.TempDir()
	write := func(path, text string) {
		t.Helper()
		path = filepath.Join(root, path)
		if err := os.MkdirAll(filepath.Dir(path), 0o755); err != nil {
			t.Fatal(err)
		}
		if err := os.WriteFile(path, []byte(text+"\n"), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	link := func(path, target string) {
		t.Helper()
		for _, dir := range []string{filepath.Dir(filepath.Join(root, path)), filepath.Join(root, target)} {
			if err := os.MkdirAll(dir, 0o755); err != nil {
				t.Fatal(err)
			}
		}
		if err := os.Symlink(filepath.Join(root, target), filepath.Join(root, path)); err != nil {
			t.Fatal(err)
		}
	}
	write("devices/usb1/1-1/idVendor", "1a2b")
	write("devices/usb1/1-1/idProduct", "3c4d")
	write("devices/usb1/1-1/serial", "A7")
	link("class/ttyUSB0/device", "devices/usb1/1-1/1-1:1.0/ttyUSB0")
	write("devices/usb1/1-2/idVendor", "5e6f")
	write("devices/usb1/1-2/idProduct", "0001")
	write("devices/usb1/1-2/product", "Stepper board")
	link("class/ttyACM0/device", "devices/usb1/1-2/1-2:1.0")
	link("class/ttyS0/device", "devices/pnp0/00:01")
	write("class/ttyS0/type", "4")
	link("class/ttyS1/device", "devices/platform/serial8250")
	write("class/ttyS1/type", "0")
	write("class/tty0/dev", "4:0")

	got, err := listSys(filepath.Join(root, "class"), "/dev")
	if err != nil {
		t.Fatal(err)
	}
	want := []Port{
		{Path: "/dev/ttyACM0", VendorID: "5E6F", ProductID: "0001", Product: "Stepper board"},
		{Path: "/dev/ttyS0"},
		{Path: "/dev/ttyUSB0", VendorID: "1A2B", ProductID: "3C4D", Serial: "A7"},
	}
	if !slices.Equal(got, want) {
		t.Errorf("listed %+v\nwant   %+v", got, want)
	}
}
