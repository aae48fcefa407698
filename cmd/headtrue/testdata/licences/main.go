// Command licences writes licences.txt.gz; go generate runs it in cmd/headtrue. The file holds
// the licences of headtrue, of Go, and of every module that is linked into headtrue on one of
// its systems. It reads them from the module cache. A text shared by several modules appears
// once.
package main

import (
	"bytes"
	"compress/gzip"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"log"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"unicode/utf8"
)

const preface = `The licences of headtrue and of all that is built into it. Each text stands
once, below the modules and files that it comes from. Some of the modules are
built in on some systems only.

This software is based in part on the work of the FreeType Team.
`

// separator stands between two texts, on a line of its own.
var separator = strings.Repeat("=", 78)

// builds are the builds that TestLicencesCoverWhatIsLinked compares with.
var builds = []struct{ system, cgo, tags string }{
	{"linux", "1", "portaudio"},
	{"linux", "0", ""},
	{"windows", "0", ""},
	{"darwin", "0", ""},
}

// licence matches the names of files and folders that hold a licence.
var licence = regexp.MustCompile(`(?i)licen[cs]e|^(copying|copyright|notice|patents)`)

// part is a linked component, with its licence files.
type part struct {
	name  string // with its version
	root  string // the folder of the files
	files []string
}

func main() {
	log.SetFlags(0)
	parts, err := linked()
	if err == nil {
		err = write("licences.txt.gz", parts)
	}
	if err != nil {
		log.Fatalf("licences: %v", err)
	}
}

// linked returns headtrue, Go, the C library of the firmware, and the modules sorted by name.
func linked() ([]part, error) {
	root, err := exec.Command("go", "env", "GOROOT").Output()
	if err != nil {
		return nil, err
	}
	top := filepath.Join("..", "..")
	goroot, avr := strings.TrimSpace(string(root)), "/usr/share/doc/avr-libc"
	parts := []part{
		{"headtrue", top, []string{filepath.Join(top, "LICENSE")}},
		{"Go, its runtime and standard library", goroot, []string{filepath.Join(goroot, "LICENSE"), filepath.Join(goroot, "PATENTS")}},
		// jig.hex is linked with it; libgcc's exception requires no notice.
		{"avr-libc, in the firmware of the jig", avr, []string{filepath.Join(avr, "copyright")}},
	}
	modules := map[string]*part{}
	for _, b := range builds {
		if err := addModules(modules, b.system, b.cgo, b.tags); err != nil {
			return nil, fmt.Errorf("%s: %w", b.system, err)
		}
	}
	names := make([]string, 0, len(modules))
	for name := range modules {
		names = append(names, name)
	}
	slices.Sort(names)
	for _, name := range names {
		if len(modules[name].files) == 0 {
			return nil, fmt.Errorf("%s: no licence in %s", name, modules[name].root)
		}
		parts = append(parts, *modules[name])
	}
	return parts, nil
}

// addModules adds the modules that one build links.
func addModules(modules map[string]*part, system, cgo, tags string) error {
	list := exec.Command("go", "list", "-deps", "-tags", tags, "-json=Dir,Module", ".")
	list.Env = append(os.Environ(), "GOOS="+system, "CGO_ENABLED="+cgo)
	list.Stderr = os.Stderr
	out, err := list.Output()
	if err != nil {
		return err
	}
	for decoder := json.NewDecoder(bytes.NewReader(out)); ; {
		var p struct {
			Dir    string
			Module *struct {
				Path, Version, Dir string
				Main               bool
			}
		}
		if err := decoder.Decode(&p); errors.Is(err, io.EOF) {
			return nil
		} else if err != nil {
			return err
		}
		if p.Module == nil || p.Module.Main {
			continue
		}
		name := p.Module.Path + " " + p.Module.Version
		if modules[name] == nil {
			modules[name] = &part{name: name, root: p.Module.Dir}
		}
		if err := modules[name].addUpFrom(p.Dir); err != nil {
			return err
		}
	}
}

// addUpFrom adds the licences in a package's folder and in its parent folders.
func (p *part) addUpFrom(dir string) error {
	for ; ; dir = filepath.Dir(dir) {
		entries, err := os.ReadDir(dir)
		if err != nil {
			return err
		}
		for _, e := range entries {
			path := filepath.Join(dir, e.Name())
			found := []string{path}
			switch {
			case !licence.MatchString(e.Name()) || filepath.Ext(path) == ".go":
				continue
			case e.IsDir():
				if found, err = filepath.Glob(filepath.Join(path, "*")); err != nil {
					return err
				}
			}
			for _, file := range found {
				if !slices.Contains(p.files, file) && filepath.Ext(file) != ".go" {
					p.files = append(p.files, file)
				}
			}
		}
		if dir == p.root {
			slices.Sort(p.files)
			return nil
		}
	}
}

// write writes each text once, below one line for each file that has it.
func write(path string, parts []part) error {
	var texts []string
	from := map[string][]string{}
	for _, p := range parts {
		for _, file := range p.files {
			text, err := plain(file)
			if err != nil {
				return fmt.Errorf("%s: %w", p.name, err)
			}
			name, err := filepath.Rel(p.root, file)
			if err != nil {
				return err
			}
			if from[text] == nil {
				texts = append(texts, text)
			}
			from[text] = append(from[text], p.name+": "+filepath.ToSlash(name))
		}
	}
	var packed bytes.Buffer
	w, _ := gzip.NewWriterLevel(&packed, gzip.BestCompression)
	fmt.Fprint(w, preface)
	for _, text := range texts {
		fmt.Fprintf(w, "\n%s\n%s\n\n%s\n", separator, strings.Join(from[text], "\n"), text)
	}
	if err := w.Close(); err != nil {
		return err
	}
	return os.WriteFile(path, packed.Bytes(), 0o644)
}

// plain returns a text with its line ends made uniform.
func plain(file string) (string, error) {
	b, err := os.ReadFile(file)
	if err != nil {
		return "", err
	}
	if !utf8.Valid(b) { // an old text, in Latin-1
		b = fromLatin1(b)
	}
	lines := strings.Split(strings.NewReplacer("\f", "", "\t", "        ", "\ufeff", "").Replace(string(b)), "\n")
	for i := range lines {
		lines[i] = strings.TrimRight(lines[i], " \r")
	}
	text := strings.Trim(strings.Join(lines, "\n"), "\n")
	if text == "" || strings.Contains(text, "\n"+separator+"\n") {
		return "", fmt.Errorf("%s is empty, or holds the separator", file)
	}
	return text, nil
}

func fromLatin1(b []byte) (text []byte) {
	for _, c := range b {
		text = utf8.AppendRune(text, rune(c))
	}
	return text
}
