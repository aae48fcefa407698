package main

import (
	"os"
	"regexp"
	"strings"
	"testing"
)

// The service starts again after every code except those that need a person. Code 2 is not
// one of them: a program that crashes without recovery also ends with it.
func TestServiceStartsAgain(t *testing.T) {
	unit, err := os.ReadFile("../../configs/systemd/headtrue-drift@.service")
	if err != nil {
		t.Fatal(err)
	}
	if !regexp.MustCompile(`(?m)^Restart=on-failure$`).Match(unit) || !regexp.MustCompile(`(?m)^StartLimitIntervalSec=0$`).Match(unit) {
		t.Error("it does not start again for good")
	}
	kept := regexp.MustCompile(`(?m)^RestartPreventExitStatus=(.*)$`).FindSubmatch(unit)
	if kept == nil || strings.TrimSpace(string(kept[1])) != "13" {
		t.Errorf("it stays off after the codes %q; want 13", kept)
	}
}
