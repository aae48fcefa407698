//go:build !linux && (!darwin || cgo)

package serialport

import "go.bug.st/serial/enumerator"

func list() ([]Port, error) {
	details, err := enumerator.GetDetailedPortsList()
	if err != nil {
		return nil, err
	}
	ports := make([]Port, 0, len(details))
	for _, d := range details {
		ports = append(ports, Port{
			Path: d.Name, VendorID: d.VID, ProductID: d.PID, Serial: d.SerialNumber, Product: d.Product,
		})
	}
	return ports, nil
}
