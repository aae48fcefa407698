package main

import (
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strings"
	"testing"
)

const module = "headtrue/"

// mayImport lists, for each package of the project, the packages of the project that it may
// import. A package that is not listed is an error, so that a new one is placed deliberately.
// An entry that ends in /... stands for a folder and everything below it.
var mayImport = map[string][]string{
	"cmd/headtrue/nearest":  {},
	"cmd/headtrue/help":     {"cmd/headtrue/nearest", "sweep/sheet/chars"},
	"cmd/headtrue/jsonhelp": {"sweep/sheet/chars"},
	"cmd/headtrue/complete": {"cmd/headtrue/help", "cmd/headtrue/settings", "configs", "sweep/logbook", "sweep/record"},
	"cmd/headtrue/runjson":  {"cmd/headtrue/app", "sweep", "sweep/figures", "sweep/logbook", "sweep/record", "sweep/sheet", "sweep/tape"},
	"cmd/headtrue/terminal": {"jig/fault", "sweep/sheet/chars"},
	"cmd/headtrue/progress": {"cmd/headtrue/terminal", "sweep/record", "sweep/stream"},
	"cmd/headtrue/settings": {"cmd/headtrue/nearest", "configs", "sweep/bench", "sweep/logbook/places"},
	// no front end
	"cmd/headtrue/app": {"cmd/headtrue/app/shell", "cmd/headtrue/app/cues", "cmd/headtrue/app/cautions", "cmd/headtrue/app/kept", "cmd/headtrue/nearest", "cmd/headtrue/settings", "sweep", "sweep/session", "sweep/stream", "sweep/bench", "sweep/hand", "sweep/bound", "sweep/logbook",
		"sweep/figures", "sweep/production", "sweep/record", "sweep/sheet", "sweep/sheet/chars", "sweep/study/report",
		"jig", "jig/fault", "jig/serialport", "jig/virtual", "dsp/audio", "dsp/capture"},
	"cmd/headtrue/app/measure":   {"cmd/headtrue/app", "sweep/figures", "sweep/session", "sweep/loss", "sweep/tape", "sweep/record", "dsp", "dsp/audio", "dsp/capture", "dsp/known", "dsp/speed"},
	"cmd/headtrue/app/realtime":  {"cmd/headtrue/app", "cmd/headtrue/app/kept", "cmd/headtrue/app/shell", "sweep/bench", "sweep/hand", "sweep/stream", "jig/fault", "jig/virtual", "dsp/audio"},
	"cmd/headtrue/app/listening": {"cmd/headtrue/app", "cmd/headtrue/app/kept", "cmd/headtrue/app/measure", "sweep/monitor", "sweep/record", "sweep/session", "sweep/tape", "jig/fault", "dsp", "dsp/audio", "dsp/capture", "dsp/known"},
	"cmd/headtrue/app/limits":    {"cmd/headtrue/app", "cmd/headtrue/settings", "sweep/bench", "sweep/bound", "sweep/tape", "dsp"},
	"cmd/headtrue/live":          {"cmd/headtrue/app/listening", "cmd/headtrue/terminal", "sweep/figures", "sweep/monitor"},
	"cmd/headtrue/app/kept":      {"cmd/headtrue/nearest", "cmd/headtrue/settings", "configs", "sweep/bench", "jig/virtual"},
	"cmd/headtrue/app/barejig":   {"cmd/headtrue/app", "cmd/headtrue/app/cautions", "cmd/headtrue/app/kept", "cmd/headtrue/app/shell", "cmd/headtrue/settings", "sweep/bench", "jig", "jig/fault", "jig/serialport", "jig/virtual", "firmware-protocol/firmware"},
	"cmd/headtrue/app/sheetfile": {"cmd/headtrue/settings", "sweep/logbook", "sweep/record", "sweep/sheet", "dsp", "dsp/audio", "dsp/capture"},
	"cmd/headtrue/app/studies":   {"cmd/headtrue/app", "sweep/logbook", "sweep/record", "sweep/sheet", "sweep/study", "sweep/study/report"},
	"cmd/headtrue/app/cues":      {"cmd/headtrue/app/shell", "sweep/cue", "sweep/stream", "jig/fault", "dsp/audio"},
	// a front end beside the terminal; it computes nothing
	"cmd/headtrue/panel": {"cmd/headtrue/app", "cmd/headtrue/app/barejig", "cmd/headtrue/app/cautions", "cmd/headtrue/app/cues", "cmd/headtrue/app/kept", "cmd/headtrue/app/listening", "cmd/headtrue/app/sheetfile", "cmd/headtrue/app/studies",
		"cmd/headtrue/runjson", "cmd/headtrue/settings", "sweep/logbook", "sweep/monitor", "sweep/production", "sweep/record", "sweep/sheet", "sweep/stream", "sweep/study", "sweep/tape", "jig", "jig/fault", "dsp", "dsp/audio"},
	"cmd/headtrue/app/shell":    {},
	"cmd/headtrue/app/cautions": {},
	"cmd/headtrue":              {"cmd/headtrue/...", "sweep/...", "jig/...", "dsp/...", "firmware-protocol/firmware"},

	"sweep":         {"sweep/byhand", "sweep/figures", "sweep/search", "sweep/session", "sweep/stream", "sweep/estimate", "sweep/tape", "sweep/record", "jig", "dsp", "sweep/faults", "firmware-protocol/firmware"},
	"sweep/search":  {"sweep/edges", "sweep/figures", "sweep/session", "sweep/estimate", "sweep/tape", "sweep/record", "dsp"},
	"sweep/session": {"dsp/speed", "sweep/axis", "sweep/faults", "sweep/stream", "sweep/estimate", "sweep/tape", "sweep/record", "jig", "dsp", "dsp/audio"},
	"sweep/monitor": {"sweep/estimate", "sweep/faults", "sweep/tape", "dsp", "dsp/audio", "dsp/speed"},
	"sweep/faults":  {"dsp"},
	"sweep/stream":  {"sweep/record"},
	"sweep/cue":     {"sweep/stream"},
	"sweep/axis":    {},
	"sweep/fit":     {},
	"sweep/tape":    {},
	// bound predicts the result of a pass; no estimate depends on it
	"sweep/estimate":     {"sweep/edges", "sweep/fit", "sweep/tape", "sweep/bound", "sweep/record", "dsp"},
	"sweep/loss":         {"sweep/fit", "sweep/tape"},
	"sweep/bound":        {}, // shares nothing with the code that it judges
	"sweep/record":       {},
	"sweep/logbook":      {"jig/fault", "sweep/record", "sweep/logbook/places"},
	"sweep/figures":      {"sweep/record"},
	"sweep/edges":        {},
	"sweep/place":        {"sweep/record"},
	"sweep/sheet":        {"sweep/figures", "sweep/place", "sweep/record", "sweep/sheet/chars", "sweep/sheet/table"},
	"sweep/sheet/table":  {"sweep/place", "sweep/record", "sweep/sheet/chars"},
	"sweep/sheet/chars":  {},
	"sweep/study":        {},
	"sweep/study/report": {"sweep/study", "sweep/sheet", "sweep/sheet/chars"},
	"sweep/production":   {"sweep/figures", "sweep/record", "sweep/sheet/chars"},
	"sweep/bench":        {"jig/virtual", "dsp/audio"}, // shares no formula with the estimator
	"sweep/bench/grid":   {"sweep/bench"},
	"sweep/byhand":       {"sweep/byhand/words", "sweep/edges", "sweep/figures", "sweep/session", "sweep/stream", "sweep/estimate", "sweep/tape", "sweep/record", "dsp"},
	"sweep/byhand/words": {"sweep/figures", "sweep/stream"},
	"sweep/hand":         {"sweep/bench", "sweep/stream"}, // sees the guide's requests and nothing else

	"jig/fault":                  {},
	"jig":                        {"jig/fault", "firmware-protocol"},
	"jig/serialport":             {"jig", "firmware-protocol"}, // the line rate belongs to the link
	"jig/virtual":                {"jig/fault", "firmware-protocol"},
	"jig/jigtest":                {"firmware-protocol"},
	"firmware-protocol":          {},
	"firmware-protocol/firmware": {},
	// runs the firmware, for tests
	"firmware-protocol/simulator": {"firmware-protocol"},

	"dsp":                         {"dsp/audio"},
	"dsp/audio":                   {},
	"dsp/capture":                 {"jig/fault", "dsp/audio"},
	"dsp/known":                   {"dsp", "dsp/audio"},
	"dsp/speed":                   {"dsp", "dsp/audio"},
	"dsp/capture/soundservertest": {},
	"dsp/pythontest":              {},
	"sweep/logbook/places":        {},
	"sweep/logbook/postgrestest":  {},
	"sweep/logbook/exchange":      {"sweep/record"},
	"configs":                     {},
}

// onlyIn lists the external modules that are held behind one seam, with the packages that form
// it. Other external modules may be imported anywhere except in pure packages.
var onlyIn = map[string][]string{
	"go.bug.st/serial":                 {"jig/serialport"},
	"github.com/gordonklaus/portaudio": {"dsp/capture"},
	"github.com/jfreymuth/pulse":       {"dsp/capture", "cmd/headtrue/app/cues"},
	"github.com/mewkiz/flac":           {"dsp/capture"},
	"github.com/creack/pty":            {"jig/virtual"},
	"github.com/coder/websocket":       {"cmd/headtrue/panel"},
	"github.com/chromedp":              {"cmd/headtrue/panel"},
	"github.com/spf13":                 {"cmd/headtrue", "cmd/headtrue/help", "cmd/headtrue/complete", "cmd/headtrue/settings"},
	"github.com/jackc/pgx":             {"sweep/logbook"},
	"modernc.org/sqlite":               {"sweep/logbook"},
	"github.com/pressly/goose":         {"sweep/logbook"},
	"github.com/klauspost/compress":    {"sweep/logbook", "sweep/logbook/exchange"},
	"github.com/parquet-go":            {"sweep/logbook/exchange"},
	"golang.org/x/image":               {"sweep/sheet"},
	"codeberg.org/go-pdf/fpdf":         {"sweep/sheet"},
	"codeberg.org/go-fonts":            {"sweep/sheet"},
	"gonum.org/v1/gonum":               {"dsp", "dsp/known", "dsp/speed", "sweep", "sweep/byhand", "sweep/search", "sweep/session", "sweep/estimate", "sweep/loss", "sweep/axis", "sweep/fit", "sweep/bound", "sweep/bench", "sweep/cue", "sweep/study"},
}

// pure packages import only the standard library and the project, and gonum if onlyIn allows
// it.
var pure = []string{"sweep", "sweep/stream", "sweep/cue", "sweep/search", "sweep/session", "sweep/monitor", "sweep/faults", "sweep/axis", "sweep/fit", "sweep/tape", "sweep/estimate", "sweep/loss", "sweep/bound", "sweep/record", "sweep/edges", "sweep/figures", "sweep/place", "sweep/sheet/chars", "sweep/sheet/table", "sweep/production", "sweep/bench", "sweep/bench/grid", "sweep/hand", "sweep/byhand", "sweep/byhand/words", "jig", "jig/jigtest", "firmware-protocol", "dsp", "dsp/known", "dsp/speed", "dsp/audio"}

// testsMayImport lists the packages whose tests also obey mayImport, and what those tests may
// import in addition; external modules are exempt. The bench is compared with published
// figures, not with the estimator.
var testsMayImport = map[string][]string{
	"sweep/bench":      {"jig", "sweep/bench", "dsp/pythontest"},
	"sweep/bench/grid": {"sweep/bench"},
}

// judge returns an error if one import is not allowed.
func judge(importer, imported string) error {
	if inner, ok := strings.CutPrefix(imported, module); ok {
		allowed, known := mayImport[importer]
		if !known {
			return fmt.Errorf("%s: no entry in mayImport: place the package", importer)
		}
		if !slices.ContainsFunc(allowed, func(entry string) bool { return covers(entry, inner) }) {
			return fmt.Errorf("%s imports %s: allowed are %q", importer, inner, allowed)
		}
		return nil
	}
	if isStandard(imported) {
		return nil
	}
	for outer, homes := range onlyIn {
		if within(imported, outer) {
			if slices.Contains(homes, importer) {
				return nil
			}
			return fmt.Errorf("%s imports %s: only %q may", importer, imported, homes)
		}
	}
	if slices.Contains(pure, importer) {
		return fmt.Errorf("%s imports %s: it may import the standard library and the project only", importer, imported)
	}
	return nil
}

func covers(entry, path string) bool {
	if folder, ok := strings.CutSuffix(entry, "/..."); ok {
		return within(path, folder)
	}
	return entry == path
}

func within(path, folder string) bool {
	return path == folder || strings.HasPrefix(path, folder+"/")
}

// isStandard uses that import paths of the standard library have no dot in their first element
// (cmd/go reserves such paths).
func isStandard(path string) bool {
	first, _, _ := strings.Cut(path, "/")
	return !strings.Contains(first, ".")
}

// toJudge keeps the imports of a test that mayImport judges.
func toJudge(imports, beyond []string) []string {
	return slices.DeleteFunc(slices.Clone(imports), func(path string) bool {
		inner, ours := strings.CutPrefix(path, module)
		return !ours || slices.Contains(beyond, inner)
	})
}

type listed struct {
	ImportPath                         string
	Imports, TestImports, XTestImports []string
}

// builds are the systems for which headtrue is built, with all tags and with none.
var builds = []struct{ system, cgo, tags string }{
	{"linux", "1", "outside,portaudio"},
	{"linux", "0", ""},
	{"windows", "0", ""},
	{"darwin", "0", ""},
}

// list returns the project's packages on one system, from the go command.
func list(t *testing.T, system, cgo, tags string) []listed {
	t.Helper()
	list := exec.Command("go", "list", "-deps", "-tags", tags,
		"-json=ImportPath,Imports,TestImports,XTestImports", module+"...")
	list.Env = append(os.Environ(), "GOOS="+system, "CGO_ENABLED="+cgo)
	list.Stderr = os.Stderr
	out, err := list.Output()
	if err != nil {
		t.Fatalf("go list for %s: %v", system, err)
	}
	var found []listed
	decoder := json.NewDecoder(strings.NewReader(string(out)))
	for {
		var p listed
		err := decoder.Decode(&p)
		if errors.Is(err, io.EOF) {
			return found
		}
		if err != nil {
			t.Fatalf("go list for %s: %v", system, err)
		}
		if strings.HasPrefix(p.ImportPath, module) {
			found = append(found, p)
		}
	}
}

// readFolders reads every folder of the project. The go command caches a test's result by the
// files that the test reads; it does not see what go list reads inside the test.
func readFolders(t *testing.T) {
	t.Helper()
	root := filepath.Join("..", "..")
	err := filepath.WalkDir(root, func(path string, entry fs.DirEntry, err error) error {
		if entry != nil && entry.IsDir() && entry.Name() == ".git" {
			return filepath.SkipDir
		}
		return err
	})
	if err != nil {
		t.Fatalf("reading the project's folders: %v", err)
	}
}

// TestImportsGoOneWay checks every package, on every system it is built for, against the tables
// above.
func TestImportsGoOneWay(t *testing.T) {
	readFolders(t)
	used := map[[2]string]bool{}
	for _, build := range builds {
		packages := list(t, build.system, build.cgo, build.tags)
		if len(packages) < 10 {
			t.Errorf("%s: go list found %d packages of the project: too few to be all", build.system, len(packages))
		}
		for _, p := range packages {
			importer := strings.TrimPrefix(p.ImportPath, module)
			if _, known := mayImport[importer]; !known {
				t.Errorf("%s: no entry in mayImport: place the package", importer)
			}
			imports := p.Imports
			if beyond, held := testsMayImport[importer]; held {
				imports = slices.Concat(imports, toJudge(p.TestImports, beyond), toJudge(p.XTestImports, beyond))
			}
			for _, imported := range imports {
				if err := judge(importer, imported); err != nil {
					t.Errorf("%s: %v", build.system, err)
				}
				used[[2]string{importer, strings.TrimPrefix(imported, module)}] = true
			}
		}
	}
	for _, unused := range needless(used) {
		t.Errorf("mayImport: %s, which no build needs", unused)
	}
}

// needless lists the permissions of mayImport that no import uses, by importer and imported.
func needless(used map[[2]string]bool) (list []string) {
	for importer, allowed := range mayImport {
		for _, entry := range allowed {
			needed := false
			for edge := range used {
				needed = needed || edge[0] == importer && covers(entry, edge[1])
			}
			if !needed {
				list = append(list, importer+" may import "+entry)
			}
		}
	}
	slices.Sort(list)
	return list
}

func TestJudgeKnowsForbiddenImports(t *testing.T) {
	for _, edge := range []struct {
		importer, imported string
		allowed            bool
	}{
		{"sweep", "headtrue/dsp", true},
		{"cmd/headtrue", "headtrue/sweep/bench", true},
		{"jig/serialport", "go.bug.st/serial/enumerator", true},
		{"dsp", "gonum.org/v1/gonum/dsp/fourier", true},
		{"jig", "time", true},
		{"jig", "net/http", true},

		{"sweep/bench", "headtrue/dsp", false},
		{"sweep/bench", "headtrue/sweep", false},
		{"sweep/bench", "headtrue/sweep/fit", false},
		{"sweep/bound", "headtrue/sweep", false},
		{"sweep/bound", "headtrue/dsp", false},
		{"sweep/record", "headtrue/dsp/audio", false},
		{"sweep/sheet", "golang.org/x/image/font/sfnt", true},
		{"cmd/headtrue", "golang.org/x/image/font/sfnt", false},
		{"sweep/sheet", "headtrue/sweep/logbook", false},
		{"sweep/sheet", "github.com/spf13/cobra", false},
		{"cmd/headtrue/app", "github.com/spf13/cobra", false},
		{"cmd/headtrue/app", "headtrue/cmd/headtrue", false},
		{"sweep", "headtrue/cmd/headtrue/app", false},
		{"sweep", "headtrue/sweep/logbook", false},
		{"sweep", "headtrue/jig/serialport", false},
		{"sweep/logbook", "headtrue/sweep", false},
		{"sweep/production", "headtrue/sweep/logbook", false},
		{"jig", "headtrue/sweep", false},
		{"jig", "headtrue/jig/virtual", false},
		{"jig", "go.bug.st/serial", false},
		{"cmd/headtrue", "go.bug.st/serial", false},
		{"cmd/headtrue", "headtrue/firmware-protocol", false},
		{"dsp", "headtrue/dsp/capture", false},
		{"dsp/known", "headtrue/sweep", false},
		{"dsp", "github.com/jfreymuth/pulse", false},
		{"dsp/audio", "headtrue/dsp", false},
		{"firmware-protocol", "headtrue/jig", false},
		{"firmware-protocol", "golang.org/x/sys/unix", false},
		{"configs", "headtrue/cmd/headtrue", false},
		{"sweep/unheard", "headtrue/dsp", false},
	} {
		err := judge(edge.importer, edge.imported)
		if allowed := err == nil; allowed != edge.allowed {
			t.Errorf("%s imports %s: got %v, want allowed %v", edge.importer, edge.imported, err, edge.allowed)
		}
	}
}
