package session

import (
	"errors"
	"fmt"
	"io/fs"
	"strings"
	"syscall"
	"testing"

	"headtrue/sweep/record"
)

// The remedy follows from the cause of the write error.
func TestTheAdviceIsForTheCause(t *testing.T) {
	for _, c := range []struct {
		err  error
		want string
	}{
		{&fs.PathError{Op: "write", Path: "x", Err: syscall.ENOSPC}, "make room"},
		{&fs.PathError{Op: "write", Path: "x", Err: syscall.EDQUOT}, "make room"},
		{&fs.PathError{Op: "open", Path: "x", Err: syscall.EACCES}, "may write"},
		{&fs.PathError{Op: "open", Path: "x", Err: syscall.EROFS}, "may write"},
		{&fs.PathError{Op: "write", Path: "x", Err: syscall.EIO}, "which fails"},
		{errors.New("odd"), "see the message"},
	} {
		var s *Stop
		if err := notSaved("a clip", fmt.Errorf("keep a clip: %w", c.err)); !errors.As(err, &s) || s.Outcome != record.NotSaved ||
			!strings.Contains(s.Do, c.want) || strings.Contains(s.Do, "make room") != (c.want == "make room") || !errors.Is(err, c.err) {
			t.Errorf("%v: %+v", c.err, s)
		}
	}
	if notSaved("a clip", nil) != nil {
		t.Error("what was written ends the run")
	}
}
