package settings

import (
	"bytes"
	"errors"
	"fmt"
	"io"
	"reflect"
	"strconv"
	"strings"

	"go.yaml.in/yaml/v3"
)

// checker walks parsed YAML along a Go type. It collects the errors, with line and nearest
// valid key, replaces values that carry a unit by their number, and records the line of each
// value.
type checker struct {
	file     string
	problems []error
	values   map[string]located // dotted key -> text and line
	// judge, if set, checks a value beyond type and unit.
	judge func(name, text string) (string, error)
}

type located struct {
	text string
	line int
}

// parseYAML reads a document; an empty one gives nil. A second document in the same file is
// an error, since it would be ignored.
func parseYAML(file string, text []byte) (*yaml.Node, error) {
	decoder := yaml.NewDecoder(bytes.NewReader(text))
	var document, second yaml.Node
	err := decoder.Decode(&document)
	if errors.Is(err, io.EOF) {
		return nil, nil
	}
	if err == nil {
		err = decoder.Decode(&second)
	}
	switch {
	case errors.Is(err, io.EOF):
		return document.Content[0], nil
	case err != nil:
		return nil, fmt.Errorf("%s: %s", file, strings.TrimPrefix(err.Error(), "yaml: "))
	}
	return nil, fmt.Errorf("%s:%d: a second document begins here: put all into one, without a line of ---", file, second.Line)
}

// check walks the node along the type and returns all errors.
func (c *checker) check(node *yaml.Node, t reflect.Type, prefix string) error {
	c.values = map[string]located{}
	if node != nil {
		c.walk(node, t, prefix, prefix)
	}
	return errors.Join(c.problems...)
}

func (c *checker) wrong(node *yaml.Node, format string, args ...any) {
	c.problems = append(c.problems, fmt.Errorf("%s:%d: %s", c.file, node.Line, fmt.Sprintf(format, args...)))
}

// walk checks a node; path is its dotted name and last the key that holds it.
func (c *checker) walk(node *yaml.Node, t reflect.Type, path, last string) {
	if node.Kind == yaml.AliasNode {
		node = node.Alias
	}
	switch t.Kind() {
	case reflect.Struct:
		c.mapping(node, t, path)
	case reflect.Slice:
		if node.Kind != yaml.SequenceNode {
			c.wrong(node, "%s: must be a list", path)
			return
		}
		for i, item := range node.Content {
			c.walk(item, t.Elem(), fmt.Sprintf("%s[%d]", path, i), last)
		}
	default:
		c.scalar(node, t, path, last)
	}
}

func (c *checker) mapping(node *yaml.Node, t reflect.Type, path string) {
	if node.Kind != yaml.MappingNode {
		c.wrong(node, "%s: must hold keys with values, as in %q", orTop(path), t.Field(0).Tag.Get("yaml")+": ...")
		return
	}
	seen := map[string]int{}
	for i := 0; i+1 < len(node.Content); i += 2 {
		name, value := node.Content[i], node.Content[i+1]
		full := name.Value
		if path != "" {
			full = path + "." + name.Value
		}
		if line, twice := seen[name.Value]; twice {
			c.wrong(name, "%s: is set twice, first in line %d", full, line)
			continue
		}
		seen[name.Value] = name.Line
		field, ok := fieldOf(t, name.Value)
		if !ok {
			c.unknown(name, t, full)
			continue
		}
		c.walk(value, field.Type, full, name.Value)
	}
}

func (c *checker) unknown(name *yaml.Node, t reflect.Type, full string) {
	near := Nearest(name.Value, namesOf(t, ""))
	if near == "" && t != reflect.TypeFor[Settings]() {
		near = Nearest(full, allNames())
	} else if near != "" && strings.Contains(full, ".") {
		near = full[:strings.LastIndexByte(full, '.')+1] + near
	}
	if near == "" {
		c.wrong(name, "unknown key %q", full)
		return
	}
	c.wrong(name, "unknown key %q; the nearest right key is %q", full, near)
}

func (c *checker) scalar(node *yaml.Node, t reflect.Type, path, last string) {
	if node.Kind != yaml.ScalarNode {
		c.wrong(node, "%s: must be a single value", path)
		return
	}
	if node.Tag == "!!null" {
		c.wrong(node, "%s: has no value", path)
		return
	}
	text := node.Value
	if c.judge != nil {
		judged, err := c.judge(path, text)
		if err != nil {
			c.wrong(node, "%s: %v", path, err)
			return
		}
		text = judged
	}
	v, err := scalar(last, text, t.Kind())
	if err != nil {
		c.wrong(node, "%s: %v", path, err)
		return
	}
	c.values[path] = located{text, node.Line}
	switch v := v.(type) {
	case float64:
		node.SetString(strconv.FormatFloat(v, 'g', -1, 64))
		node.Tag = "!!float"
	case int:
		node.SetString(strconv.Itoa(v))
		node.Tag = "!!int"
	case bool:
		node.SetString(strconv.FormatBool(v))
		node.Tag = "!!bool"
	}
}

func orTop(path string) string {
	if path == "" {
		return "the file"
	}
	return path
}

func fieldOf(t reflect.Type, name string) (reflect.StructField, bool) {
	for i := range t.NumField() {
		if f := t.Field(i); f.Tag.Get("yaml") == name {
			return f, true
		}
	}
	return reflect.StructField{}, false
}

// namesOf lists the keys of a type, the keys of its sections with dots.
func namesOf(t reflect.Type, prefix string) []string {
	var names []string
	for i := range t.NumField() {
		f := t.Field(i)
		name := prefix + f.Tag.Get("yaml")
		names = append(names, name)
		if f.Type.Kind() == reflect.Struct {
			names = append(names, namesOf(f.Type, name+".")...)
		}
	}
	return names
}

func allNames() []string { return namesOf(reflect.TypeFor[Settings](), "") }
