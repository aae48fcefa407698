// Package pythontest has a Python program answer a test: the reference that scipy,
// numpy or statsmodels are. The interpreter is the one that PYTHON names, else
// Debian's, whose packages python3-scipy and python3-statsmodels it needs. It knows
// nothing of what is asked.
package pythontest

import (
	"bytes"
	"cmp"
	"encoding/json"
	"fmt"
	"os"
	"os/exec"
	"testing"
)

// Program is the interpreter.
func Program() string { return cmp.Or(os.Getenv("PYTHON"), "/usr/bin/python3") }

// Run gives what a program writes to its standard output; args are the program's path
// and its own arguments, in, if any, its standard input. A program that fails ends the
// test with what it complained of.
func Run(t *testing.T, in []byte, args ...any) []byte {
	t.Helper()
	var text []string
	for _, a := range args {
		text = append(text, fmt.Sprint(a))
	}
	cmd := exec.Command(Program(), text...)
	var complaints bytes.Buffer
	cmd.Stdin, cmd.Stderr = bytes.NewReader(in), &complaints
	out, err := cmd.Output()
	if err != nil {
		t.Fatalf("python: %v\n%s", err, complaints.String())
	}
	return out
}

// Ask puts a question to a program as JSON and reads its answer, JSON too.
func Ask(t *testing.T, program string, question, answer any) {
	t.Helper()
	asked, err := json.Marshal(question)
	if err != nil {
		t.Fatal(err)
	}
	Read(t, Run(t, asked, program), answer)
}

// Read takes an answer, which must be JSON.
func Read(t *testing.T, out []byte, answer any) {
	t.Helper()
	if err := json.Unmarshal(out, answer); err != nil {
		t.Fatalf("python: %v in %q", err, out)
	}
}
