//go:build unix

package main

import (
	"bytes"
	"context"
	"crypto/sha256"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"maps"
	"math/rand/v2"
	"os"
	"path/filepath"
	"runtime"
	"slices"
	"strconv"
	"strings"
	"testing"
	"time"

	"headtrue/cmd/headtrue/app/sheetfile"
	"headtrue/cmd/headtrue/settings"
	"headtrue/dsp/audio"
	"headtrue/dsp/capture"
	"headtrue/sweep/logbook"
	"headtrue/sweep/logbook/exchange"
	"headtrue/sweep/record"
	"headtrue/sweep/sheet"
)

// A file from elsewhere is read, kept, checked, drawn, copied and exported again. No damaged
// file crashes the program, takes more than mostMemoryMB of memory or writes anything outside
// the logbook.
func TestMutatedFilesDoNoHarm(t *testing.T) {
	inputs := 400
	if testing.Short() {
		inputs = 150
	}
	c := newMutants(t)
	defer func() { c.book.Close() }()
	c.run(inputs)
	for kind, n := range c.told {
		if n[taken] == 0 || n[refused] == 0 {
			t.Errorf("%s: %d taken and %d refused: both must come up", kind, n[taken], n[refused])
		}
	}
}

// BenchmarkMutated prints the table of the whole campaign; MUTATED_INPUTS sets its size.
func BenchmarkMutated(b *testing.B) {
	inputs := 20_000
	if n, err := strconv.Atoi(os.Getenv("MUTATED_INPUTS")); err == nil {
		inputs = n
	}
	for b.Loop() {
		c := newMutants(b)
		defer func() { c.book.Close() }()
		began := time.Now()
		c.run(inputs)
		for _, kind := range slices.Sorted(maps.Keys(c.told)) {
			fmt.Printf("%-8s %6d taken, %6d refused\n", kind, c.told[kind][taken], c.told[kind][refused])
		}
		fmt.Printf("%d files in %.0f s, memory %d MB at most, canaries unharmed\n", inputs, time.Since(began).Seconds(), c.memoryMB)
	}
}

const mostMemoryMB = 512

const (
	taken = iota
	refused
)

// mutants feeds mutated files to a logbook that lies among canaries.
type mutants struct {
	testing.TB
	seeds    map[string][]byte // by the ending of a file's name
	outside  string            // folder of the canaries
	canaries map[string][32]byte
	folder   string // of the logbook
	book     *logbook.Book
	told     map[string]*[2]int
	why      string // for the last refused file
	memoryMB int
}

func newMutants(t testing.TB) *mutants {
	c := &mutants{TB: t, outside: t.TempDir(), told: map[string]*[2]int{}}
	c.seeds = c.makeSeeds()
	c.folder = filepath.Join(c.outside, "within", "logbook")
	for _, name := range []string{"canary.wav", "within/canary.wav", "within/logbook.db", "elsewhere/20240506T070809Z-as-found.wav", "elsewhere/canary"} {
		path := filepath.Join(c.outside, name)
		if err := os.MkdirAll(filepath.Dir(path), 0o755); err != nil {
			t.Fatal(err)
		}
		if err := os.WriteFile(path, []byte("canary "+name), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	c.canaries = c.look()
	c.start()
	for kind, text := range c.seeds { // undamaged, all are accepted
		c.told[kind] = new([2]int)
		path := filepath.Join(t.TempDir(), "seed."+kind)
		if err := os.WriteFile(path, text, 0o600); err != nil {
			t.Fatal(err)
		}
		if c.feed(kind, path) != taken {
			t.Fatalf("the whole file %s is refused: %s", path, c.why)
		}
	}
	return c
}

// look returns the hashes of all files outside the logbook.
func (c *mutants) look() map[string][32]byte {
	found := map[string][32]byte{}
	err := filepath.WalkDir(c.outside, func(path string, e fs.DirEntry, err error) error {
		switch {
		case path == c.folder:
			return fs.SkipDir
		case err == nil && e.Type().IsRegular():
			text, err := os.ReadFile(path)
			found[path] = sha256.Sum256(text)
			return err
		}
		return err
	})
	if err != nil {
		c.Fatal(err)
	}
	return found
}

func (c *mutants) run(inputs int) {
	kinds := slices.Sorted(maps.Keys(c.seeds))
	input := filepath.Join(c.TempDir(), "input")
	for i := range inputs {
		if i%200 == 0 {
			c.start()
		}
		kind := kinds[i%len(kinds)]
		text := c.mutant(kind, i, rand.New(rand.NewPCG(uint64(i), 7)))
		if err := os.WriteFile(input+"."+kind, text, 0o600); err != nil {
			c.Fatal(err)
		}
		took := c.feed(kind, input+"."+kind)
		c.told[kind][took]++
		var m runtime.MemStats
		runtime.ReadMemStats(&m)
		if c.memoryMB = max(c.memoryMB, int(m.HeapInuse>>20), residentMB()); c.memoryMB > mostMemoryMB {
			c.Fatalf("input %d, %s: %d MB of memory", i, kind, c.memoryMB)
		}
		if i%50 == 0 || i == inputs-1 {
			if now := c.look(); !maps.Equal(now, c.canaries) {
				c.Fatalf("up to input %d, %s: outside of the logbook is now %v, was %v", i, kind, now, c.canaries)
			}
		}
		if i%200 == 199 || i == inputs-1 {
			c.finish()
		}
	}
}

// residentMB is the peak memory of the process, in MB; 0 if the system does not report it.
func residentMB() int {
	text, err := os.ReadFile("/proc/self/status")
	if err != nil {
		return 0
	}
	for line := range strings.Lines(string(text)) {
		if rest, ok := strings.CutPrefix(line, "VmHWM:"); ok {
			kB, _ := strconv.Atoi(strings.Fields(rest)[0])
			return kB >> 10
		}
	}
	return 0
}

// start begins a new logbook.
func (c *mutants) start() {
	var err error
	if c.book != nil {
		err = c.book.Close()
	}
	if err = errors.Join(err, os.RemoveAll(c.folder)); err == nil {
		c.book, err = logbook.Open(c.folder, "")
	}
	if err != nil {
		c.Fatal(err)
	}
}

// feed makes the program read a file as a command would.
func (c *mutants) feed(kind, path string) int {
	ctx := context.Background()
	switch kind {
	case "yaml":
		if _, err := settings.Load(settings.Sources{File: path}); err != nil {
			c.why = err.Error()
			return refused
		}
		return taken
	case "wav", "flac":
		return listenTo(ctx, path)
	}
	var m moved
	err := importFile(ctx, c.book, path, &m, func(why string) { c.why = why })
	if err != nil || m.Runs+m.Grown+m.AlreadyThere == 0 {
		c.why = fmt.Sprint(c.why, err)
		return refused
	}
	return taken
}

func listenTo(ctx context.Context, path string) int {
	src, err := capture.File(path)
	if err != nil {
		return refused
	}
	defer src.Close()
	for {
		var b audio.Block
		if b, err = src.Next(ctx); err != nil {
			break
		}
		_ = b.Frames()
	}
	if err != io.EOF {
		return refused
	}
	return taken
}

// finish does everything that commands do with runs in the logbook.
func (c *mutants) finish() {
	ctx, book := context.Background(), c.book
	if _, err := book.Check(ctx, func(t logbook.Trouble) {
		if t.Clip == "" { // clips were not sent along
			c.Errorf("what was taken is not whole: %+v", t)
		}
	}); err != nil {
		c.Fatal(err)
	}
	drawn := 0
	for rec, err := range book.Records(ctx, logbook.Filter{}) {
		if err != nil {
			c.Fatal(err)
		}
		if drawn++; drawn <= 20 {
			sheet.Text(rec.Entries)
		}
		if drawn <= 2 {
			if err := sheetfile.Write(ctx, book, settings.Default(), filepath.Join(c.TempDir(), "job.html"), rec, sheetfile.ForWorkshop); err != nil {
				c.Fatal(err)
			}
			if _, err := sheet.NewPage(sheet.Job{Entries: rec.Entries}).PDF(); err != nil {
				c.Error(err)
			}
		}
	}
	if _, err := book.Backup(ctx, filepath.Join(c.TempDir(), "copy"), func(logbook.Trouble) {}); err != nil {
		c.Error(err)
	}
	if _, err := book.Prune(ctx, logbook.Filter{Until: time.Now().AddDate(1000, 0, 0)}, false, true); err != nil {
		c.Error(err)
	}
}

// mutant is a damaged file of a kind. Files of runs hold an intact run, a run with changed
// figures or bytes, and an intact run again.
func (c *mutants) mutant(kind string, i int, r *rand.Rand) []byte {
	f := exchange.Format(kind)
	if f != exchange.JSONLines && f != exchange.CSV && f != exchange.Parquet {
		return mutated(c.seeds[kind], r)
	}
	named := func(suffix string) []record.Entry {
		run := campaignRun()
		run[0].Start.Run = fmt.Sprintf("%06d%s", i, suffix)
		return run
	}
	if r.IntN(2) == 0 {
		return c.written(f, named("a"), mutatedRun(named("b"), r), named("c"))
	}
	text := c.written(f, named("a"), named("b"), named("c"))
	begin := 0
	if heading := bytes.IndexByte(text, '\n'); f == exchange.CSV && r.IntN(10) > 0 {
		begin = heading + 1
	}
	return append(text[:begin:begin], mutated(text[begin:], r)...)
}

// written returns runs as a file.
func (c *mutants) written(f exchange.Format, runs ...[]record.Entry) []byte {
	var text bytes.Buffer
	w, err := exchange.NewWriter(&text, f)
	if err != nil {
		c.Fatal(err)
	}
	for _, run := range runs {
		name := ""
		for n, e := range run {
			if e.Start != nil {
				name = e.Start.Run
			}
			if err := w.Write(name, n, e); err != nil {
				c.Fatal(err)
			}
		}
	}
	if err := w.Close(); err != nil {
		c.Fatal(err)
	}
	return text.Bytes()
}

// makeSeeds makes intact files of each kind.
func (c *mutants) makeSeeds() map[string][]byte {
	seeds := map[string][]byte{}
	for _, f := range []exchange.Format{exchange.JSONLines, exchange.CSV, exchange.Parquet} {
		seeds[string(f)] = c.written(f, campaignRun())
	}
	path := filepath.Join(c.TempDir(), "seed.wav")
	w, err := capture.CreateWAV(path, 48000, false)
	if err == nil {
		err = w.Write(audio.Block{Left: make([]float64, 500), Right: make([]float64, 500)})
	}
	if err == nil {
		err = w.Close()
	}
	if err == nil {
		seeds["wav"], err = os.ReadFile(path)
	}
	if err == nil {
		seeds["flac"], err = os.ReadFile("../../dsp/capture/testdata/seed.flac")
	}
	if err != nil {
		c.Fatal(err)
	}
	seeds["yaml"] = []byte("port: /dev/ttyACM0\ndeck:\n  profile: m2.5\n  gearing_arcmin_per_turn: 148 arcmin/turn\nwindow_deg: 150 deg\nproof_seconds: 8 s\n")
	return seeds
}

// campaignRun is a run with an entry of each kind and with clips, as a bench records it.
func campaignRun() []record.Entry {
	off := 19.75
	reading := record.Reading{Seconds: 1, TrebleDB: -21.5, DelayUS: 110.25, DelaySDUS: 0.5, Coherence: 0.99, Usable: true, Why: []string{"hum"}}
	run := recordedAt(time.Date(2024, 5, 6, 7, 8, 9, 0, time.UTC), record.Start{Command: "align", Unit: "D-104", Virtual: "default",
		Settings: map[string]string{"within_arcmin": "1"}}, record.Entry{Kind: record.KindChecks, Checks: &record.Checks{Checks: []record.Check{{Name: "hum", Verdict: "pass"}}}}, record.Aligned)
	name := run[0].Start.Run + "-as-found.wav"
	middle := []record.Entry{
		{Kind: record.KindClip, Clip: &record.Clip{Name: name, SHA256: strings.Repeat("0a", 32), Bytes: 2044}},
		{Kind: record.KindFound, Found: &record.Found{Memory: "kept", MicrostepsPerTurn: 3200, BladeOff: &reading, Clip: name}},
		{Kind: record.KindStep, TapeSeconds: 3, Step: &record.Step{N: 1, Phase: "bracket", ScrewDeg: -15.5, Reading: reading}},
		{Kind: record.KindStep, TapeSeconds: 4, Step: &record.Step{N: 2, Phase: "refine", ScrewDeg: 31.25, FromHome: true, Reading: reading}},
		{Kind: record.KindDecision, TapeSeconds: 8, Decision: &record.Decision{LowEdgeDeg: -12, HighEdgeDeg: 44, Agreement: "agree", FoundOffArcmin: &off,
			Optimum: record.Estimate{Deg: 16, SDArcmin: 0.5, OK: true}, Curve: []record.CurvePoint{{ScrewDeg: -15.5, TrebleDB: -21}, {ScrewDeg: 31, TrebleDB: -9}}}},
		{Kind: record.KindLeft, TapeSeconds: 9, Left: &record.Left{ScrewDeg: 16, Released: &reading, TravelDeg: 120}},
	}
	return append(append(run[:2:2], middle...), run[2])
}
