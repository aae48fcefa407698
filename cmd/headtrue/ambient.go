package main

import (
	"context"
	"fmt"
	"os"
	"os/exec"
	"regexp"
	"runtime"
	"strconv"
	"strings"
	"time"

	"headtrue/sweep/record"
)

// ambientPatience is how long a command that reads a sensor may take.
const ambientPatience = 10 * time.Second

// ambientOf reads the air at the bench: a temperature in degrees C and, after it, a
// relative humidity in per cent, given as such, or said by a file or a command, so
// that any sensor will do. Nil where nothing is said.
func ambientOf(ctx context.Context, from string) (*record.Ambient, error) {
	text := from
	switch kind, what, _ := strings.Cut(from, ":"); {
	case from == "":
		return nil, nil
	case kind == "file":
		read, err := os.ReadFile(what)
		if err != nil {
			return nil, err
		}
		text = string(read)
	case kind == "command":
		said, err := shell(ctx, ambientPatience, what)
		if err != nil {
			return nil, err
		}
		text = said
	default:
		from = "given"
	}
	return ambientIn(text, from)
}

// shell has the system's shell carry out a command of the user's own, and returns
// what it writes.
func shell(ctx context.Context, patience time.Duration, command string) (string, error) {
	ctx, cancel := context.WithTimeout(ctx, patience)
	defer cancel()
	cmd := exec.CommandContext(ctx, "sh", "-c", command)
	if runtime.GOOS == "windows" {
		cmd = exec.CommandContext(ctx, "cmd", "/C", command)
	}
	cmd.Env = childEnvironment()
	cmd.WaitDelay = time.Second
	said, err := cmd.Output()
	if err != nil {
		return "", fmt.Errorf("%s: %w", command, err)
	}
	return string(said), nil
}

var number = regexp.MustCompile(`[-+]?\d+(\.\d+)?`)

func ambientIn(text, from string) (*record.Ambient, error) {
	said := number.FindAllString(text, 2)
	if len(said) == 0 {
		return nil, fmt.Errorf("%q holds no temperature in degrees C", strings.TrimSpace(text))
	}
	a := &record.Ambient{From: from}
	for i, limits := range [][2]float64{{-40, 85}, {0, 100}}[:len(said)] {
		x, err := strconv.ParseFloat(said[i], 64)
		if err != nil || x < limits[0] || x > limits[1] {
			return nil, fmt.Errorf("%s is no %s between %g and %g", said[i], []string{"temperature in degrees C", "humidity in per cent"}[i], limits[0], limits[1])
		}
		if i == 0 {
			a.TemperatureC = &x
		} else {
			a.HumidityPercent = &x
		}
	}
	return a, nil
}
