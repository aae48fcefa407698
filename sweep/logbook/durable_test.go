//go:build unix

package logbook

import (
	"bufio"
	"encoding/json"
	"errors"
	"fmt"
	"os"
	"os/exec"
	"os/signal"
	"strings"
	"syscall"
	"testing"

	"headtrue/sweep/record"
)

// The test binary starts itself again as a writer; which one is told here.
const writerVariable = "LOGBOOK_TEST_WRITER"

func TestMain(m *testing.M) {
	switch os.Getenv(writerVariable) {
	case "until-killed":
		writeUntilKilled(os.Args[1])
	case "full-disk":
		writeToAFullDisk(os.Args[1])
	default:
		os.Exit(m.Run())
	}
}

// writeUntilKilled appends for ever and says each acknowledged number.
func writeUntilKilled(dir string) {
	book, err := Open(dir)
	if err != nil {
		panic(err)
	}
	run, err := book.Begin(record.Start{Command: "align"})
	if err != nil {
		panic(err)
	}
	fmt.Println(run.ID())
	for n := 1; ; n++ {
		if err := run.Append(step(n)); err != nil {
			panic(err)
		}
		fmt.Println(n)
	}
}

func TestNothingAcknowledgedIsLostWhenTheWriterIsKilled(t *testing.T) {
	for _, acknowledged := range []int{0, 1, 7, 50} {
		dir := t.TempDir()
		writer := exec.Command(os.Args[0], dir)
		writer.Env = append(os.Environ(), writerVariable+"=until-killed")
		out, err := writer.StdoutPipe()
		if err != nil {
			t.Fatal(err)
		}
		if err := writer.Start(); err != nil {
			t.Fatal(err)
		}
		lines := bufio.NewScanner(out)
		lines.Scan()
		id := lines.Text()
		book, err := Open(dir)
		if err != nil {
			t.Fatal(err)
		}
		if rec, err := book.Load(id); err != nil || !rec.Running {
			t.Errorf("while the writer lives: running %v, %v; want true", rec.Running, err)
		}
		for range acknowledged {
			lines.Scan()
		}
		writer.Process.Signal(syscall.SIGKILL)
		last := acknowledged
		for lines.Scan() { // what it had said before it died
			last++
		}
		writer.Wait()
		rec, err := book.Load(id)
		if err != nil || rec.Running {
			t.Fatalf("after the kill: running %v, %v; want false", rec.Running, err)
		}
		if got := len(rec.Entries) - 1; got < last || got > last+1 {
			t.Errorf("%d steps acknowledged, %d read back", last, got)
		}
		for i, e := range rec.Entries[1:] {
			if e.Step == nil || e.Step.N != i+1 {
				t.Fatalf("entry %d is %+v", i+1, e)
			}
		}
	}
}

const fullAt = 2000 // bytes a file of the writer may have

// writeToAFullDisk writes with a limit on the size of files, which fails in
// the middle of a line as a full disk does, then with the limit lifted.
func writeToAFullDisk(dir string) {
	signal.Ignore(syscall.SIGXFSZ)
	var old syscall.Rlimit
	syscall.Getrlimit(syscall.RLIMIT_FSIZE, &old)
	limit := old
	limit.Cur = fullAt
	if err := syscall.Setrlimit(syscall.RLIMIT_FSIZE, &limit); err != nil {
		panic(err)
	}
	book, err := Open(dir)
	if err != nil {
		panic(err)
	}
	run, err := book.Begin(record.Start{})
	if err != nil {
		panic(err)
	}
	n := 1
	for err == nil {
		err = run.Append(step(n))
		n++
	}
	result := fullDisk{Run: run.ID(), Acknowledged: n - 2, TooBig: errors.Is(err, syscall.EFBIG)}
	rec, err := book.Load(run.ID())
	result.Readable = err == nil && !rec.Torn && len(rec.Entries) == n-1
	syscall.Setrlimit(syscall.RLIMIT_FSIZE, &old)
	result.AfterRoom = run.Append(record.Entry{Kind: record.KindEnd, End: &record.End{Outcome: record.NotSaved}}) == nil
	json.NewEncoder(os.Stdout).Encode(result)
}

type fullDisk struct {
	Run                         string
	Acknowledged                int
	TooBig, Readable, AfterRoom bool
}

func TestAFullDiskIsToldAndWhatWasWrittenStaysReadable(t *testing.T) {
	dir := t.TempDir()
	writer := exec.Command(os.Args[0], dir)
	writer.Env = append(os.Environ(), writerVariable+"=full-disk")
	writer.Stderr = os.Stderr
	out, err := writer.Output()
	if err != nil {
		t.Fatal(err)
	}
	var got fullDisk
	if err := json.NewDecoder(strings.NewReader(string(out))).Decode(&got); err != nil {
		t.Fatal(err)
	}
	if got.Acknowledged < 1 || !got.TooBig || !got.Readable || !got.AfterRoom {
		t.Errorf("%+v: want some acknowledged, the write refused, the rest readable, and an end once there is room", got)
	}
	book, _ := Open(dir)
	rec, err := book.Load(got.Run)
	if err != nil || rec.Torn || len(rec.Entries) != got.Acknowledged+2 || rec.End() == nil {
		t.Errorf("%d entries, torn %v, %v; want %d and an end", len(rec.Entries), rec.Torn, err, got.Acknowledged+2)
	}
}
