package app

import (
	"context"
	"fmt"
	"io"
	"os"
	"regexp"
	"strconv"
	"strings"
	"sync"
	"time"

	"headtrue/cmd/headtrue/app/shell"
	"headtrue/jig/fault"
	"headtrue/sweep/record"
)

// ambientPatience is the time limit for a command that reads a sensor, or for its file.
const ambientPatience = 10 * time.Second

// ambientOf reads the air at the bench: a temperature in degrees C and, after it, a relative
// humidity in per cent. They are given directly, or come from a file or a command, so that
// any sensor will do. It returns nil if nothing is given. Direct text that is no such figure
// is a usage error.
func ambientOf(ctx context.Context, from string) (*record.Ambient, error) {
	text := from
	switch kind, what, _ := strings.Cut(from, ":"); {
	case from == "":
		return nil, nil
	case kind == "file":
		read, err := readBounded(ctx, ambientPatience, what)
		if err != nil {
			return nil, err
		}
		text = read
	case kind == "command":
		said, err := shell.Output(ctx, ambientPatience, what)
		if err != nil {
			return nil, err
		}
		text = said
	default:
		a, err := ambientIn(text, "given")
		if err != nil {
			return nil, Wrong("--ambient: %w", err)
		}
		return a, nil
	}
	return ambientIn(text, from)
}

// airFigures matches one or two numbers and nothing else, separated by space or a semicolon.
// A comma is a decimal point.
var airFigures = sync.OnceValue(func() *regexp.Regexp {
	return regexp.MustCompile(`^\s*([-+]?\d+(?:[.,]\d+)?)(?:(?:\s+|\s*;\s*)([-+]?\d+(?:[.,]\d+)?))?\s*$`)
})

func ambientIn(text, from string) (*record.Ambient, error) {
	said := airFigures().FindStringSubmatch(text)
	if said == nil {
		return nil, fmt.Errorf("%.60q: give the temperature in degrees C and, after a space or a semicolon, the relative humidity in per cent, as in 21.5 45", strings.TrimSpace(text))
	}
	a := &record.Ambient{From: from}
	var err error
	if a.TemperatureC, err = airFigure(said[1], "temperature in degrees C", -40, 85); err != nil {
		return nil, err
	}
	if said[2] != "" {
		a.HumidityPercent, err = airFigure(said[2], "humidity in per cent", 0, 100)
	}
	return a, err
}

func airFigure(text, what string, least, most float64) (*float64, error) {
	x, err := strconv.ParseFloat(strings.Replace(text, ",", ".", 1), 64)
	if err != nil || x < least || x > most {
		return nil, fmt.Errorf("%s is no %s between %g and %g", text, what, least, most)
	}
	return &x, nil
}

// readBounded reads a file, which may be a pipe without a writer. The goroutine that reads
// such a pipe lives until something writes to it.
func readBounded(ctx context.Context, patience time.Duration, path string) (string, error) {
	type content struct {
		text []byte
		err  error
	}
	read := make(chan content, 1)
	go func() {
		defer fault.Recovered(func(err error) { read <- content{nil, err} })
		f, err := os.Open(path)
		if err != nil {
			read <- content{nil, err}
			return
		}
		defer f.Close()
		text, err := io.ReadAll(io.LimitReader(f, shell.MostSaid+1))
		read <- content{text, err}
	}()
	select {
	case c := <-read:
		if len(c.text) > shell.MostSaid {
			return "", fmt.Errorf("%s: it holds %w", path, shell.ErrSaysTooMuch)
		}
		return string(c.text), c.err
	case <-ctx.Done():
		return "", ctx.Err()
	case <-time.After(patience):
		return "", fmt.Errorf("%s: nothing comes within %v", path, patience)
	}
}
