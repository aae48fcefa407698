package settings

import (
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"reflect"
	"strings"

	"headtrue/cmd/headtrue/nearest"
	"headtrue/configs"
	"headtrue/sweep/bench"
)

// profiles puts the named profiles over the defaults, below all else. The path of a profile
// file is relative to the configuration file.
func (l layers) profiles(beside string) error {
	var problems []error
	for _, k := range keys {
		if k.profiles == "" {
			continue
		}
		name := l.text(k.name)
		if name == "" {
			continue
		}
		problems = append(problems, l.profile(k, name, beside))
	}
	return errors.Join(problems...)
}

func (l layers) profile(k key, name, beside string) error {
	file, text, err := readProfile(k.profiles, name, beside)
	if err != nil {
		return fmt.Errorf("%s: %s: %w", l.origin[k.name], k.name, err)
	}
	section := strings.TrimSuffix(k.name, ".profile")
	field, _ := fieldOf(reflect.TypeFor[Settings](), section)
	values, err := checkText(file, text, field.Type, section)
	if err != nil {
		return err
	}
	if v, inside := values[k.name]; inside {
		return fmt.Errorf("%s:%d: a profile cannot name another profile", file, v.line)
	}
	for name, v := range values {
		l.usual[name] = v.text
		if l.origin[name] == "default" {
			l.origin[name] = fmt.Sprintf("profile %s:%d", file, v.line)
		}
	}
	return nil
}

// IsFile reports whether a name of a profile is the path of a file.
func IsFile(name string) bool {
	return strings.ContainsAny(name, `/\`) || strings.HasSuffix(name, ".yaml") || strings.HasSuffix(name, ".yml")
}

// readProfile reads a profile by its name, or by its path if it looks like one.
func readProfile(kind, name, beside string) (file string, text []byte, err error) {
	if !IsFile(name) {
		file, text, err = configs.Read(kind, name)
		if err != nil {
			err = fmt.Errorf("%w%s", err, nearest.Hint(name, configs.Names(kind)))
		}
		return file, text, err
	}
	file = name
	if !filepath.IsAbs(file) && beside != "" {
		if near := filepath.Join(beside, name); exists(near) {
			file = near
		}
	}
	text, err = os.ReadFile(file)
	if err != nil {
		return "", nil, fmt.Errorf("read the profile: %w", err)
	}
	return file, text, nil
}

func exists(path string) bool {
	_, err := os.Stat(path)
	return err == nil
}

// Bench reads a virtual bench by the name of its profile or by its path. Missing values are
// those of bench.Default.
func Bench(name string) (bench.Profile, error) {
	p := bench.Default()
	file, text, err := readProfile(configs.Benches, name, "")
	if err != nil {
		return p, err
	}
	node, err := parseYAML(file, text)
	if err != nil || node == nil {
		return p, err
	}
	c := checker{file: file}
	if err := c.check(node, reflect.TypeFor[bench.Profile](), ""); err != nil {
		return p, err
	}
	if err := node.Decode(&p); err != nil {
		return p, fmt.Errorf("%s: %w", file, err)
	}
	if wav := p.Programme.WAV; wav != "" && !filepath.IsAbs(wav) && exists(filepath.Join(filepath.Dir(file), wav)) {
		p.Programme.WAV = filepath.Join(filepath.Dir(file), wav)
	}
	if err := p.Validate(); err != nil {
		return p, fmt.Errorf("%s: %w", file, err)
	}
	return p, nil
}
