package main

import (
	"go/ast"
	"go/parser"
	"go/token"
	"os"
	"path/filepath"
	"regexp"
	"strconv"
	"strings"
	"testing"
)

// jargon are words that no text for people has, and what to write instead: headtrue help words is
// the glossary. Keys of the settings keep their names.
var jargon = []struct{ words, instead string }{
	{`\b(the|no|its|this|of) play\b|\bplay (of|in the|is|comes)\b|\bslack\b`, "backlash"},
	{`give or take|one standard uncertainty|\+-`, "± and 95 %, by figures.PlusMinus"},
	{`(cannot|could not) be told|\bI hear\b|\btells? (the|a|to|how|whether)\b`, "is unknown; is heard; shows"},
	{`position memory|true rate|\boutlook\b`, "count of the screw; sampling rate; expected uncertainty"},
	{`\bknows about itself\b|only the bench knows|tell the same story`, "a plain verb"},
	{`%d\. time|\b1 times\b|started %d times`, "a number that stands for itself"},
	{`sources (in|of) (the|this) mix|\bin this mix\b`, "instruments in this recording"},
	{`\bno centre\b|\bthe centre (is|lies|would)\b|\bcentre so far\b`, "optimum, fitted centre or midpoint"},
	{`by given\b|holds no unit|not known from it|neither .* nor .* tells`, "a sentence without a double negation"},
	{`\bepoch\b`, "count"},
}

// keyed are the places in which such a word is the name of a key.
var keyed = regexp.MustCompile(`slack_taken_up|json:"epoch"`)

// Texts for people are string literals of the packages that speak to them, the topics of help,
// the README and the guide to the jig.
func TestTextsFollowTheGlossary(t *testing.T) {
	for where, text := range textsForPeople(t) {
		plain := keyed.ReplaceAllString(text, "")
		for _, j := range jargon {
			if found := regexp.MustCompile(j.words).FindString(plain); found != "" {
				t.Errorf("%s: %q: write %s\n\t%.150q", where, found, j.instead, text)
			}
		}
	}
}

func textsForPeople(t *testing.T) map[string]string {
	texts := map[string]string{}
	for _, file := range []string{"../../README.md", "../../sweep/ACCURACY.md"} {
		text, err := os.ReadFile(file)
		if err != nil {
			t.Fatal(err)
		}
		texts[file] = string(text)
	}
	topics, err := filepath.Glob("help/topics/*.txt")
	if err != nil || len(topics) < 4 {
		t.Fatalf("%v, %d topics", err, len(topics))
	}
	for _, file := range topics {
		text, err := os.ReadFile(file)
		if err != nil {
			t.Fatal(err)
		}
		texts[file] = string(text)
	}
	for _, pattern := range []string{"*.go", "*/*.go", "app/*/*.go", "../../sweep/*.go", "../../sweep/*/*.go", "../../sweep/*/*/*.go", "../../jig/*.go", "../../dsp/capture/*.go"} {
		files, err := filepath.Glob(pattern)
		if err != nil || len(files) == 0 {
			t.Fatalf("%s: %v, %d files", pattern, err, len(files))
		}
		for _, file := range files {
			if !strings.HasSuffix(file, "_test.go") {
				literalsOf(t, file, texts)
			}
		}
	}
	if len(texts) < 2000 {
		t.Fatalf("only %d texts were found", len(texts))
	}
	return texts
}

// literalsOf adds the string literals of a file that have more than one word.
func literalsOf(t *testing.T, file string, texts map[string]string) {
	set := token.NewFileSet()
	parsed, err := parser.ParseFile(set, file, nil, 0)
	if err != nil {
		t.Fatal(err)
	}
	ast.Inspect(parsed, func(n ast.Node) bool {
		literal, ok := n.(*ast.BasicLit)
		if !ok || literal.Kind != token.STRING {
			return true
		}
		if text, err := strconv.Unquote(literal.Value); err == nil && strings.Contains(strings.TrimSpace(text), " ") {
			texts[set.Position(literal.Pos()).String()] = text
		}
		return true
	})
}
