package session

import "fmt"

// leastApartHz is the least distance between tones that can be separated (dsp.NewMeter).
const leastApartHz = 1000

// CheckTones returns an error if tones do not suit sound of rate frames a second; a rate of
// 0 is not known yet. toneHz and further are those of a Plan.
func CheckTones(rate int, toneHz float64, further ...float64) error {
	if toneHz == 0 && len(further) > 0 {
		return fmt.Errorf("name the main tone first: the highest that is clear")
	}
	tones := append([]float64{toneHz}, further...)
	for i, hz := range tones {
		if rate > 0 && hz >= float64(rate)/2 {
			return fmt.Errorf("sound of %d frames a second cannot hold a tone of %g Hz: at least %.0f are needed", rate, hz, 2*hz+1)
		}
		for _, other := range tones[:i] {
			if d := hz - other; d > -leastApartHz && d < leastApartHz {
				return fmt.Errorf("tones of %g and %g Hz are too near each other: they must lie %d Hz apart", other, hz, leastApartHz)
			}
		}
	}
	return nil
}
