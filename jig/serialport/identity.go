package serialport

import (
	"os"
	"path/filepath"
	"strings"
)

// Identity names the board behind a port: by the board's own number or, without one, by
// the place at this machine where it is plugged in. The same board has the same name on
// every path. The name is empty if neither exists. Identity opens no port.
func Identity(path string) string {
	ports, err := List()
	if err != nil {
		ports = nil // use only the system's links
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
		return "" // the next board plugged in may get the same name
	}
	return host + " " + real
}

// resolved returns a path without links, or the path itself if it does not exist.
func resolved(path string) string {
	if real, err := filepath.EvalSymlinks(path); err == nil {
		return real
	}
	return path
}
