package firmware

import (
	"fmt"
	"os"
	"strings"
	"testing"
)

func TestOlder(t *testing.T) {
	for greeted, older := range map[string]bool{
		"headtrue 1.0": true, "headtrue 0.9": true, Version(): false, "headtrue 1.30": false, "headtrue 2.0": false,
		"virtual 1.0": false, "headtruer 1.0": false, "": false,
	} {
		if Older(greeted) != older {
			t.Errorf("%q: older %v; want %v", greeted, !older, older)
		}
	}
}

// The version here is that of the sources.
func TestVersionIsThatOfTheSources(t *testing.T) {
	config, err := os.ReadFile("core/config.h")
	if err != nil {
		t.Fatal(err)
	}
	for _, line := range []string{
		fmt.Sprintf("#define FIRMWARE_NAME %q", Name), fmt.Sprintf("#define FIRMWARE_MAJOR %d\n", Major), fmt.Sprintf("#define FIRMWARE_MINOR %d\n", Minor),
	} {
		if !strings.Contains(string(config), line) {
			t.Errorf("config.h does not have %q", line)
		}
	}
}
