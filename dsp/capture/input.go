package capture

import "fmt"

// Input is a live input that Open accepts by Name.
type Input struct {
	Name     string `json:"name" help:"the value for --audio"`
	API      string `json:"api"`    // host API
	Device   string `json:"device"` // its name in the API
	About    string `json:"about" help:"the sound system, its own name for the input, and a description"`
	Channels int    `json:"channels"` // most available
	Rate     int    `json:"rate" help:"most channels, and the default rate in frames per second"`
	Default  bool   `json:"default" help:"whether it is the system's choice"`
}

// Range of accepted rates of sound, frames per second.
const LeastRate, MostRate = 8000, 384000

// CheckRate returns an error for a rate that cannot be measured here.
func CheckRate(rate int) error {
	if rate < LeastRate || rate > MostRate {
		return fmt.Errorf("rate %d: from %d to %d frames per second can be measured", rate, LeastRate, MostRate)
	}
	return nil
}

func needTwo(channels int) error {
	if channels != 2 {
		return fmt.Errorf("%d channel(s): two are needed, left and right of the head", channels)
	}
	return nil
}

// blockFrames is the length of the blocks that sources return.
const blockFrames = 1024
