// Package configs holds the profiles that come with headtrue, as commented
// YAML files. It owns the files and nothing else: what a key means, and which
// keys there are, is settled where they are decoded.
package configs

import (
	"embed"
	"fmt"
	"path"
	"slices"
	"strings"
)

//go:embed jigs decks tapes benches tones.yaml
var files embed.FS

// Kinds of profiles: the folders of this package.
const (
	Jigs    = "jigs"
	Decks   = "decks"
	Tapes   = "tapes"
	Benches = "benches"
)

// Tones is the file that gives azimuth tones their names.
func Tones() (name string, text []byte) {
	text, err := files.ReadFile("tones.yaml")
	if err != nil {
		panic(err) // the file is part of the program
	}
	return "tones.yaml", text
}

// Read returns the text of a profile and the file it comes from.
func Read(kind, name string) (file string, text []byte, err error) {
	file = path.Join(kind, name+".yaml")
	text, err = files.ReadFile(file)
	if err != nil {
		return "", nil, fmt.Errorf("no profile %q among the %s that come with headtrue: there are %s",
			name, kind, strings.Join(Names(kind), ", "))
	}
	return file, text, nil
}

// Names lists the profiles of a kind in alphabetical order.
func Names(kind string) []string {
	entries, err := files.ReadDir(kind)
	if err != nil {
		return nil
	}
	var names []string
	for _, e := range entries {
		names = append(names, strings.TrimSuffix(e.Name(), ".yaml"))
	}
	slices.Sort(names)
	return names
}
