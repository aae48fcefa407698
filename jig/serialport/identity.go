package serialport

import (
	"os"
	"path/filepath"
	"strings"
)

// Identity names the board behind a port, or where a board has no number of its own the
// place at this machine where it is plugged in: the same board has the same name on
// whatever path it comes up. It is empty where neither is known. Nothing is opened.
func Identity(path string) string {
	ports, err := List()
	if err != nil {
		ports = nil // then the system's links must do
	}
	host, err := os.Hostname()
	if err != nil {
		return ""
	}
	return identity(path, ports, "/dev/serial", host)
}

func identity(path string, ports []Port, links, host string) string {
	real := resolved(path)
	for _, p := range ports {
		if resolved(p.Path) == real && p.Serial != "" {
			return "usb " + p.VendorID + ":" + p.ProductID + " " + p.Serial
		}
	}
	for _, folder := range []string{"by-id", "by-path"} {
		all, err := filepath.Glob(filepath.Join(links, folder, "*"))
		if err != nil {
			continue
		}
		for _, link := range all {
			if resolved(link) == real {
				return host + " " + folder + "/" + filepath.Base(link)
			}
		}
	}
	if name := filepath.Base(real); strings.HasPrefix(name, "ttyACM") || strings.HasPrefix(name, "ttyUSB") {
		return "" // the next board that is plugged in has it
	}
	return host + " " + real
}

// resolved is a path without links, or the path itself if there is nothing.
func resolved(path string) string {
	if real, err := filepath.EvalSymlinks(path); err == nil {
		return real
	}
	return path
}
