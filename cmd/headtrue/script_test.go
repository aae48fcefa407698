package main

import (
	"bytes"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"math"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"strconv"
	"strings"
	"syscall"
	"testing"
	"time"

	"github.com/rogpeppe/go-internal/testscript"

	"headtrue/sweep/logbook"
)

func TestMain(m *testing.M) {
	testscript.Main(m, map[string]func(){"headtrue": main})
}

// TestCommandLine runs the scripts of testdata; each states what it guards.
func TestCommandLine(t *testing.T) {
	t.Parallel() // some wait in real time, as do other tests
	runScripts(t, "testdata", nil)
}

// runScripts runs the scripts of a folder with additional variables.
func runScripts(t *testing.T, dir string, more map[string]string) {
	testscript.Run(t, testscript.Params{
		Dir: dir,
		Setup: func(e *testscript.Env) error {
			// Nothing of the machine itself: configuration, logbook, sound server.
			e.Setenv("HOME", e.WorkDir)
			e.Setenv("XDG_CONFIG_HOME", filepath.Join(e.WorkDir, "config"))
			e.Setenv("XDG_RUNTIME_DIR", filepath.Join(e.WorkDir, "run"))
			e.Setenv("PULSE_SERVER", "unix:"+filepath.Join(e.WorkDir, "no-server"))
			e.Setenv("HEADTRUE_LOGBOOK", filepath.Join(e.WorkDir, "logbook"))
			e.Setenv("LC_ALL", "C.UTF-8")
			for name, value := range more {
				e.Setenv(name, value)
			}
			e.Values["started"] = started{}
			return nil
		},
		Cmds: map[string]func(*testscript.TestScript, bool, []string){
			"exits":       exitsWith,
			"start":       start,
			"startwith":   startWith,
			"unread":      unread,
			"signal":      signalTo,
			"waitexit":    waitExit,
			"await":       await,
			"awaitRun":    awaitRun,
			"one":         one,
			"none":        none,
			"runs":        runs,
			"ran":         ran,
			"noteNewest":  noteNewest,
			"rmClip":      rmClip,
			"bom":         bom,
			"near":        near,
			"lastline":    lastLine,
			"remember":    remember,
			"noise":       noise,
			"tone":        tone,
			"onechannel":  oneChannel,
			"flacNoise":   flacNoise,
			"turnBit":     turnBit,
			"samerecords": sameRecords,
			"shifted":     shifted,
			"deeper":      deeper,
			"sameStudy":   sameStudy,
			"shown":       shown,
			"sameScrew":   sameScrew,
			"proposed":    proposed,
		},
	})
}

// exits CODE PROGRAM ARGS... runs a program that must end with CODE.
func exitsWith(ts *testscript.TestScript, neg bool, args []string) {
	code := 0
	err := ts.Exec(args[1], args[2:]...)
	var ended *exec.ExitError
	if errors.As(err, &ended) {
		code = ended.ExitCode()
	} else {
		ts.Check(err)
	}
	fmt.Fprint(ts.Stdout(), ts.ReadFile("stdout"))
	fmt.Fprint(ts.Stderr(), ts.ReadFile("stderr"))
	if want, _ := strconv.Atoi(args[0]); code != want || neg {
		ts.Fatalf("ended with code %d, want %s", code, args[0])
	}
}

// bom FILE TO copies a text and puts before it the byte order mark that some editors set.
func bom(ts *testscript.TestScript, _ bool, args []string) {
	ts.Check(os.WriteFile(ts.MkAbs(args[1]), []byte("\xef\xbb\xbf"+ts.ReadFile(args[0])), 0o644))
}

// started holds the programs that run beside a script.
type started map[string]*beside

type beside struct {
	cmd      *exec.Cmd
	out, err bytes.Buffer
}

// start NAME PROGRAM ARGS... runs a program beside the script.
func start(ts *testscript.TestScript, _ bool, args []string) {
	b := newBeside(ts, args)
	b.cmd.Stdout, b.cmd.Stderr = &b.out, &b.err
	ts.Check(b.cmd.Start())
	ts.Defer(func() { b.cmd.Process.Kill() })
}

// startwith FILE NAME PROGRAM ARGS... is start with a file as standard input.
func startWith(ts *testscript.TestScript, _ bool, args []string) {
	b := newBeside(ts, args[1:])
	b.cmd.Stdin = strings.NewReader(ts.ReadFile(args[0]))
	b.cmd.Stdout, b.cmd.Stderr = &b.out, &b.err
	ts.Check(b.cmd.Start())
	ts.Defer(func() { b.cmd.Process.Kill() })
}

// unread NAME PROGRAM ARGS... is start with standard output and error in one pipe of which
// nobody reads more than the first bytes, as in 2>&1 | head -1.
func unread(ts *testscript.TestScript, _ bool, args []string) {
	r, w, err := os.Pipe()
	ts.Check(err)
	b := newBeside(ts, args)
	b.cmd.Stdout, b.cmd.Stderr = w, w
	ts.Check(b.cmd.Start())
	ts.Defer(func() { b.cmd.Process.Kill() })
	_, err = r.Read(make([]byte, 10))
	ts.Check(errors.Join(err, r.Close(), w.Close()))
}

func newBeside(ts *testscript.TestScript, args []string) *beside {
	path := ""
	for _, dir := range filepath.SplitList(ts.Getenv("PATH")) {
		if p := filepath.Join(dir, args[1]); path == "" && isFile(p) {
			path = p
		}
	}
	b := &beside{cmd: exec.Command(path, args[2:]...)}
	b.cmd.Dir = ts.MkAbs(".")
	for _, name := range []string{"PATH", "HOME", "XDG_CONFIG_HOME", "XDG_RUNTIME_DIR", "PULSE_SERVER", "HEADTRUE_LOGBOOK", "LC_ALL"} {
		b.cmd.Env = append(b.cmd.Env, name+"="+ts.Getenv(name))
	}
	ts.Value("started").(started)[args[0]] = b
	return b
}

func isFile(path string) bool {
	info, err := os.Stat(path)
	return err == nil && !info.IsDir()
}

// signal NAME INT|QUIT|KILL.
func signalTo(ts *testscript.TestScript, _ bool, args []string) {
	signals := map[string]os.Signal{"INT": os.Interrupt, "QUIT": syscall.SIGQUIT, "KILL": os.Kill}
	ts.Check(ts.Value("started").(started)[args[0]].cmd.Process.Signal(signals[args[1]]))
}

// waitexit NAME CODE waits for the end; "killed" is an end by a signal. After it, stdout and
// stderr hold the program's output.
func waitExit(ts *testscript.TestScript, _ bool, args []string) {
	b := ts.Value("started").(started)[args[0]]
	b.cmd.Wait()
	fmt.Fprint(ts.Stdout(), b.out.String())
	fmt.Fprint(ts.Stderr(), b.err.String())
	got := strconv.Itoa(b.cmd.ProcessState.ExitCode())
	if status, ok := b.cmd.ProcessState.Sys().(syscall.WaitStatus); ok && status.Signaled() {
		got = "killed"
	}
	if got != args[1] {
		ts.Fatalf("ended with %s, want %s:\n%s", got, args[1], b.err.String())
	}
}

// await GLOB REGEXP waits until a file matches; it gives up after a minute.
func await(ts *testscript.TestScript, _ bool, args []string) {
	wanted := regexp.MustCompile(args[1])
	for end := time.Now().Add(time.Minute); time.Now().Before(end); time.Sleep(10 * time.Millisecond) {
		files, _ := filepath.Glob(ts.MkAbs(args[0]))
		for _, f := range files {
			if text, err := os.ReadFile(f); err == nil && wanted.Match(text) {
				return
			}
		}
	}
	ts.Fatalf("no file %s came to hold %q", args[0], args[1])
}

// awaitRun FOLDER REGEXP waits until the newest run of a logbook matches; it gives up after a
// minute.
func awaitRun(ts *testscript.TestScript, _ bool, args []string) {
	wanted := regexp.MustCompile(args[1])
	for end := time.Now().Add(time.Minute); time.Now().Before(end); time.Sleep(10 * time.Millisecond) {
		book, err := logbook.OpenExisting(bookAt(ts, args[0]))
		if err != nil {
			continue // not there yet
		}
		rec, err := book.Newest(logbook.Filter{})
		ts.Check(book.Close())
		if text, _ := json.Marshal(rec.Entries); err == nil && wanted.Match(text) {
			return
		}
	}
	ts.Fatalf("no run in %s came to hold %q", args[0], args[1])
}

// runs FOLDER N counts the runs in a logbook, which may be missing.
func runs(ts *testscript.TestScript, _ bool, args []string) {
	if got := fmt.Sprint(len(recordsIn(ts, args[0]))); got != args[1] {
		ts.Fatalf("%s runs in %s, want %s", got, args[0], args[1])
	}
}

// noteNewest TEXT adds a note to the newest run of the logbook, and sets NEWEST to its name.
func noteNewest(ts *testscript.TestScript, _ bool, args []string) {
	run := recordsIn(ts, ts.Getenv("HEADTRUE_LOGBOOK"))[0].Run
	ts.Setenv("NEWEST", run)
	ts.Check(ts.Exec("headtrue", "logbook", "note", run, args[0], "--by", "K"))
}

// rmClip FOLDER NAME deletes one of the clips of that name.
func rmClip(ts *testscript.TestScript, _ bool, args []string) {
	clips, err := filepath.Glob(filepath.Join(ts.MkAbs(args[0]), "*-"+args[1]+".wav"))
	ts.Check(err)
	ts.Check(os.Remove(clips[0]))
}

// bookAt returns the arguments that open a logbook in a folder or on a server.
func bookAt(ts *testscript.TestScript, where string) (string, string) {
	if logbook.IsServer(where) {
		return where, ts.MkAbs("clips")
	}
	return ts.MkAbs(where), ""
}

// openBookAt opens a logbook for writing.
func openBookAt(ts *testscript.TestScript, where string) *logbook.Book {
	book, err := logbook.Open(bookAt(ts, where))
	ts.Check(err)
	return book
}

func recordsIn(ts *testscript.TestScript, folder string) (all []logbook.Record) {
	book, err := logbook.OpenExisting(bookAt(ts, folder))
	if errors.Is(err, logbook.ErrEmpty) {
		return nil
	}
	ts.Check(err)
	defer book.Close()
	for rec, err := range book.Records(context.Background(), logbook.Filter{}) {
		ts.Check(err)
		all = append(all, rec)
	}
	return all
}

// one GLOB and none GLOB count files.
func one(ts *testscript.TestScript, _ bool, args []string)  { count(ts, args[0], 1) }
func none(ts *testscript.TestScript, _ bool, args []string) { count(ts, args[0], 0) }

func count(ts *testscript.TestScript, glob string, want int) {
	files, err := filepath.Glob(ts.MkAbs(glob))
	ts.Check(err)
	if len(files) != want {
		ts.Fatalf("%s: %d files, want %d: %q", glob, len(files), want, files)
	}
}

// near FILE KEY VALUE WITHIN compares a number in a JSON file; KEY.0 is the first element of a
// list.
func near(ts *testscript.TestScript, _ bool, args []string) {
	var object map[string]any
	ts.Check(json.Unmarshal([]byte(ts.ReadFile(args[0])), &object))
	name, index, listed := strings.Cut(args[1], ".")
	value := object[name]
	if list, ok := value.([]any); ok && listed {
		i, err := strconv.Atoi(index)
		ts.Check(err)
		value = list[i]
	}
	got, ok := value.(float64)
	want, _ := strconv.ParseFloat(args[2], 64)
	within, _ := strconv.ParseFloat(args[3], 64)
	if !ok || !(math.Abs(got-want) <= within) {
		ts.Fatalf("%s is %v, want %s within %s", args[1], value, args[2], args[3])
	}
}

// lastline FILE TO copies the last line of a text.
func lastLine(ts *testscript.TestScript, _ bool, args []string) {
	lines := strings.Split(strings.TrimSuffix(ts.ReadFile(args[0]), "\n"), "\n")
	ts.Check(os.WriteFile(ts.MkAbs(args[1]), []byte(lines[len(lines)-1]+"\n"), 0o644))
}

// remember NAME FILE KEY sets a variable to a text in a JSON file.
func remember(ts *testscript.TestScript, _ bool, args []string) {
	var object map[string]any
	ts.Check(json.Unmarshal([]byte(ts.ReadFile(args[1])), &object))
	text, ok := object[args[2]].(string)
	if !ok {
		ts.Fatalf("%s is no text in %s", args[2], args[1])
	}
	ts.Setenv(args[0], text)
}

// sameRecords FOLDER checks that all records in it are equal, apart from names and times.
func sameRecords(ts *testscript.TestScript, _ bool, args []string) {
	all := recordsIn(ts, args[0])
	if len(all) < 2 {
		ts.Fatalf("%d records: nothing to compare", len(all))
	}
	first := ""
	for _, rec := range all {
		for i := range rec.Entries {
			rec.Entries[i].At = ""
		}
		text, err := json.Marshal(rec.Entries)
		ts.Check(err)
		plain := strings.ReplaceAll(string(text), rec.Run, "RUN")
		if first == "" {
			first = plain
		}
		if plain != first {
			ts.Fatalf("run %s differs from %s", rec.Run, all[0].Run)
		}
	}
}
