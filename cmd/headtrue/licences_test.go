package main

import (
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strings"
	"testing"
)

// linkedModules returns the modules linked into headtrue on one of its systems, with their
// versions, from the go command.
func linkedModules(t *testing.T, system, cgo, tags string) []string {
	t.Helper()
	list := exec.Command("go", "list", "-deps", "-tags", tags,
		"-f", "{{with .Module}}{{if not .Main}}{{.Path}} {{.Version}}{{end}}{{end}}", module+"cmd/headtrue")
	list.Env = append(os.Environ(), "GOOS="+system, "CGO_ENABLED="+cgo)
	list.Stderr = os.Stderr
	out, err := list.Output()
	if err != nil {
		t.Fatalf("go list for %s: %v", system, err)
	}
	modules := slices.DeleteFunc(strings.Split(string(out), "\n"), func(m string) bool { return m == "" })
	slices.Sort(modules)
	return slices.Compact(modules)
}

// licenceTexts parses the licences: for each named part, with its version, the texts that
// apply to it.
func licenceTexts(t *testing.T) map[string][]string {
	t.Helper()
	all, err := licences()
	if err != nil {
		t.Fatal(err)
	}
	texts := map[string][]string{}
	for _, section := range strings.Split(all, "\n"+strings.Repeat("=", 78)+"\n")[1:] {
		names, text, _ := strings.Cut(section, "\n\n")
		for _, name := range strings.Split(names, "\n") {
			part, _, _ := strings.Cut(name, ": ")
			texts[part] = append(texts[part], text)
		}
	}
	return texts
}

// The licences that come with the program are exactly those of the modules linked now, with
// the right version, and each has a text. If this fails after a change of go.mod: go generate
// ./cmd/headtrue.
func TestLicencesCoverWhatIsLinked(t *testing.T) {
	readFolders(t)
	var linked []string
	for _, build := range builds {
		found := linkedModules(t, build.system, build.cgo, build.tags)
		if len(found) < 10 {
			t.Errorf("%s: go list found %d modules: too few to be all", build.system, len(found))
		}
		linked = append(linked, found...)
	}
	slices.Sort(linked)
	linked = slices.Compact(linked)
	texts := licenceTexts(t)
	for _, m := range linked {
		if !slices.ContainsFunc(texts[m], isLicence) {
			t.Errorf("%s is linked and has no licence text", m)
		}
	}
	for part := range texts {
		if strings.Contains(part, " v") && !slices.Contains(linked, part) {
			t.Errorf("%s has a licence and is not linked", part)
		}
	}
}

// isLicence looks for the disclaimer that each licence in use has.
func isLicence(text string) bool {
	text = strings.ToLower(text)
	return len(text) > 500 && (strings.Contains(text, "warrant") || strings.Contains(text, "as is"))
}

// Linked parts that are no modules have their licences, too: headtrue itself, Go, the fonts,
// and the C library in the firmware's image.
func TestLicencesOfWhatIsNoModule(t *testing.T) {
	root, err := exec.Command("go", "env", "GOROOT").Output()
	if err != nil {
		t.Fatal(err)
	}
	texts := licenceTexts(t)
	for part, file := range map[string]string{
		"headtrue":                             filepath.Join("..", "..", "LICENSE"),
		"Go, its runtime and standard library": filepath.Join(strings.TrimSpace(string(root)), "LICENSE"),
	} {
		want, err := os.ReadFile(file)
		if err != nil {
			t.Fatal(err)
		}
		if len(texts[part]) == 0 || strings.TrimSpace(texts[part][0]) != strings.TrimSpace(string(want)) {
			t.Errorf("%s: not the text of %s", part, file)
		}
	}
	for part, phrase := range map[string]string{
		"codeberg.org/go-fonts/liberation":     "SIL OPEN FONT LICENSE Version 1.1",
		"avr-libc, in the firmware of the jig": "Redistributions in binary form must reproduce the above copyright",
	} {
		found := false
		for name, all := range texts {
			if name == part || strings.HasPrefix(name, part+" v") {
				found = found || strings.Contains(strings.Join(all, "\n"), phrase)
			}
		}
		if !found {
			t.Errorf("%s: no text has %q", part, phrase)
		}
	}
}
