package serialport

import (
	"errors"
	"io/fs"
	"os"
	"path/filepath"
	"strings"
)

// list reads the kernel's list of terminals. The library's enumerator would open every
// ttyS port to check whether it is real.
func list() ([]Port, error) { return listSys("/sys/class/tty", "/dev") }

func listSys(sys, dev string) ([]Port, error) {
	names, err := os.ReadDir(sys)
	if errors.Is(err, fs.ErrNotExist) {
		return nil, nil // a container without /sys/class/tty
	}
	if err != nil {
		return nil, err
	}
	var ports []Port
	for _, name := range names {
		tty := filepath.Join(sys, name.Name())
		device, err := filepath.EvalSymlinks(filepath.Join(tty, "device"))
		if err != nil || line(tty, "type") == "0" {
			continue // not a serial port, or one without hardware behind it
		}
		p := Port{Path: filepath.Join(dev, name.Name())}
		if usb := usbDevice(device); usb != "" {
			p.VendorID, p.ProductID = strings.ToUpper(line(usb, "idVendor")), strings.ToUpper(line(usb, "idProduct"))
			p.Serial, p.Product = line(usb, "serial"), line(usb, "product")
		}
		ports = append(ports, p)
	}
	return ports, nil
}

// usbDevice returns the nearest parent folder that is a USB device, or "": one level
// above the interface for modems, two for serial adapters.
func usbDevice(device string) string {
	for range 3 {
		if line(device, "idVendor") != "" {
			return device
		}
		device = filepath.Dir(device)
	}
	return ""
}

// line returns the content of a small file, or "" if it cannot be read.
func line(folder, name string) string {
	b, err := os.ReadFile(filepath.Join(folder, name))
	if err != nil {
		return ""
	}
	return strings.TrimSpace(string(b))
}
