package main

import (
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"testing"
)

// README is short, and all files that it links are there.
func TestReadmeIsShortAndItsLinksLead(t *testing.T) {
	const most = 200
	text, err := os.ReadFile("../../README.md")
	if err != nil {
		t.Fatal(err)
	}
	if n := strings.Count(string(text), "\n"); n > most {
		t.Errorf("%d lines, at most %d", n, most)
	}
	links := regexp.MustCompile(`\]\(([^)#]+)\)|src="([^"]+)"`).FindAllStringSubmatch(string(text), -1)
	if len(links) < 8 {
		t.Errorf("only %d links were found", len(links))
	}
	for _, l := range links {
		if _, err := os.Stat(filepath.Join("../..", l[1]+l[2])); err != nil {
			t.Error(err)
		}
	}
}
