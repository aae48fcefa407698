package pythontest

import (
	"encoding/json"
	"io"
	"os"
	"os/exec"
	"sync"
	"testing"
)

// asked are the programs that answer one question after the other; each ends with the test
// process, at the end of its input.
var asked struct {
	sync.Mutex
	by map[string]*answerer
}

type answerer struct {
	in  *json.Encoder
	out *json.Decoder
}

// Ask sends a question as JSON to a program that answers each line of its input by a line of JSON,
// and decodes the answer. The program is started once: it takes seconds to load its libraries.
func Ask(t *testing.T, program string, question, answer any) {
	t.Helper()
	asked.Lock()
	defer asked.Unlock()
	a := asked.by[program]
	if a == nil {
		var err error
		if a, err = start(program); err != nil {
			t.Fatalf("python: %v", err)
		}
		if asked.by == nil {
			asked.by = map[string]*answerer{}
		}
		asked.by[program] = a
	}
	if err := a.in.Encode(question); err != nil {
		t.Fatalf("python: %v", err)
	}
	if err := a.out.Decode(answer); err != nil {
		t.Fatalf("python: %v (its errors stand above)", err)
	}
}

func start(program string) (*answerer, error) {
	cmd := exec.Command(Program(), program)
	cmd.Stderr = os.Stderr
	in, err := cmd.StdinPipe()
	if err != nil {
		return nil, err
	}
	var out io.Reader
	if out, err = cmd.StdoutPipe(); err != nil {
		return nil, err
	}
	return &answerer{json.NewEncoder(in), json.NewDecoder(out)}, cmd.Start()
}
