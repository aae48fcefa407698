//go:build unix

package logbook

import (
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"syscall"
	"testing"

	"headtrue/sweep/record"
)

func init() { roles["reader"] = readOnly }

// readOnly reads a logbook that it may not write, and prints the result.
func readOnly(p place) {
	book, err := OpenExisting(p.where, "")
	if err != nil {
		fmt.Println(err)
		return
	}
	defer book.Close()
	var troubles int
	runs, err := book.Check(context.Background(), func(t Trouble) { troubles++; fmt.Println(t) })
	fmt.Println(runs, "runs", troubles, "troubles", err)
	rec, err := book.Newest(Filter{})
	fmt.Println("newest", rec.Run, rec.Running, err)
	fmt.Println("note:", book.Note(rec.Run, record.Note{Text: "x"}))
	_, err = book.Prune(context.Background(), Filter{Virtual: true}, false, true)
	fmt.Println("prune:", err)
	_, err = book.Backup(context.Background(), filepath.Join(p.clips, "copy"), func(Trouble) {})
	fmt.Println("backup:", err)
}

// asNobody starts the test binary as a user without write access to the folder.
func asNobody(t *testing.T, p place) string {
	t.Helper()
	dir := t.TempDir()
	binary := filepath.Join(dir, "reader")
	from, err := os.Open(os.Args[0])
	if err != nil {
		t.Fatal(err)
	}
	defer from.Close()
	to, err := os.OpenFile(binary, os.O_CREATE|os.O_WRONLY, 0o755)
	if err != nil {
		t.Fatal(err)
	}
	if _, err := io.Copy(to, from); err != nil {
		t.Fatal(err)
	}
	if err := to.Close(); err != nil {
		t.Fatal(err)
	}
	free := filepath.Join(dir, "free")
	if err := errors.Join(os.Mkdir(free, 0o777), os.Chmod(free, 0o777), os.Chmod(filepath.Dir(dir), 0o755), os.Chmod(filepath.Dir(p.where), 0o755)); err != nil {
		t.Fatal(err)
	}
	cmd := exec.Command(binary, p.where, free)
	cmd.Env = append(os.Environ(), roleVariable+"=reader")
	if os.Getuid() == 0 {
		cmd.SysProcAttr = &syscall.SysProcAttr{Credential: &syscall.Credential{Uid: 65534, Gid: 65534}}
	}
	said, err := cmd.CombinedOutput()
	if err != nil {
		t.Fatalf("%v: %s", err, said)
	}
	return string(said)
}

// A logbook that may not be written can be read, whether another user is writing a run or
// not; changes are refused.
func TestALogbookThatMayOnlyBeRead(t *testing.T) {
	for _, open := range []bool{false, true} {
		p := place{where: t.TempDir()}
		book, err := Open(p.where, "")
		if err != nil {
			t.Fatal(err)
		}
		defer book.Close()
		withClip(t, book, record.Start{}, "sound")
		if open {
			appendAll(t, begin(t, book, record.Start{}), step(1))
		} else if err := book.Close(); err != nil {
			t.Fatal(err)
		}
		if err := os.Chmod(p.where, 0o555); err != nil {
			t.Fatal(err)
		}
		defer os.Chmod(p.where, 0o755)
		for _, file := range filesIn(t, p.where) {
			if !strings.HasSuffix(file, "running") {
				os.Chmod(filepath.Join(p.where, file), 0o444)
			}
		}
		said := asNobody(t, p)
		want := []string{"1 runs 0 troubles <nil>", "false <nil>", "note: " + ErrOnlyToRead.Error(), "prune: " + ErrOnlyToRead.Error(), "backup: <nil>"}
		if open {
			want[0], want[1] = "2 runs 0 troubles <nil>", "true <nil>"
		}
		for _, line := range want {
			if !strings.Contains(said, line) {
				t.Errorf("being written %v: it said\n%swant %q", open, said, line)
			}
		}
	}
}
