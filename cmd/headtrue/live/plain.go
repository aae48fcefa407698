package live

import (
	"fmt"
	"strings"

	"headtrue/cmd/headtrue/app/listening"
	"headtrue/sweep/figures"
	"headtrue/sweep/monitor"
)

// Plain is an update in one line, for a pipe.
func Plain(u listening.Update) string {
	parts := []string{
		fmt.Sprintf("%7.1f s", u.Seconds),
		fmt.Sprintf("level %s %s dBFS", number(6, 1, false, u.LevelDBFS[0]), number(6, 1, false, u.LevelDBFS[1])),
		fmt.Sprintf("treble %s dB", number(6, 1, true, u.TrebleDB)),
		fmt.Sprintf("delay %s us", number(8, 2, true, u.DelayUS)),
		tilt(u.Now),
	}
	if u.ToneHz != nil {
		parts = append(parts, fmt.Sprintf("tone %.1f Hz, speed %s %%", *u.ToneHz, number(6, 2, true, u.Speed)))
	}
	found, _ := doubts(u)
	return strings.Join(append(parts, found), "  ")
}

func tilt(now monitor.Now) string {
	if now.TiltSD == nil {
		return "tilt -"
	}
	return fmt.Sprintf("tilt %+.2f'%s (95 %%)", *now.TiltArcmin, figures.PlusMinus(now.TiltSD, "'"))
}

// Summary is the sentence at the end.
func Summary(s monitor.Summary) string {
	if s.Seconds == 0 {
		return "heard nothing"
	}
	parts := []string{fmt.Sprintf("heard %.1f s", s.Seconds),
		fmt.Sprintf("level %s %s dBFS, peaks %s %s", number(0, 2, false, s.LevelDBFS[0]), number(0, 2, false, s.LevelDBFS[1]), number(0, 2, false, s.PeakDBFS[0]), number(0, 2, false, s.PeakDBFS[1]))}
	if clipped := max(s.ClippedSeconds[0], s.ClippedSeconds[1]); clipped > 0 {
		parts = append(parts, fmt.Sprintf("clipped for %.1f s", clipped))
	}
	parts = append(parts, "at the end "+tilt(s.Last))
	if now := s.Last; now.SpeedMean != nil {
		parts = append(parts, fmt.Sprintf("speed %+.2f %%", *now.SpeedMean))
		if now.FlutterPeak != nil {
			parts = append(parts, fmt.Sprintf("flutter %.3f %% weighted peak", *now.FlutterPeak))
		}
	}
	if s.LostFrames > 0 {
		parts = append(parts, fmt.Sprintf("%d frames lost", s.LostFrames))
	}
	return strings.Join(parts, "; ")
}
