package cues

import "headtrue/sweep/cue"

// fadeFrames is the ramp at the end of words that are cut off, 5 ms.
const fadeFrames = cue.Rate * 5 / 1000

// spokenWords are the words that sound beside the tones.
type spokenWords struct {
	now    []float32
	fading int       // frames until now is cut off; 0 if it is not
	next   []float32 // begins when now has been cut off
}

// set replaces the words; nil ends them.
func (w *spokenWords) set(words []float32) {
	w.next = words
	if len(w.now) == 0 {
		w.now, w.next = words, nil
	} else if w.fading == 0 {
		w.fading = fadeFrames
	}
}

// mix adds the words to the tones.
func (w *spokenWords) mix(out []float32) {
	for i := range out {
		if w.fading > 0 {
			if w.fading--; w.fading == 0 {
				w.now, w.next = w.next, nil
			}
		}
		if len(w.now) == 0 {
			w.now, w.next, w.fading = w.next, nil, 0
			if len(w.now) == 0 {
				return
			}
		}
		v := w.now[0]
		w.now = w.now[1:]
		if w.fading > 0 {
			v *= float32(w.fading) / fadeFrames
		}
		out[i] += v
	}
}
