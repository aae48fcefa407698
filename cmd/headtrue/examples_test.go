//go:build unix

package main

import (
	"io"
	"os"
	"regexp"
	"strings"
	"testing"

	"headtrue/cmd/headtrue/terminal"
)

// elsewhere are the examples that need a person's key, a board, a sound server or the time of a
// schedule; the tests named run them.
var elsewhere = map[string]string{
	"headtrue bench ":                "TestTheExampleOfBenchWorks, keep.txt",
	"headtrue jig flash":             "jig_test.go, with a stand-in for avrdude",
	"headtrue jig nudge":             "TestNudge",
	"headtrue jig turn-back":         "restore.txt, jig_test.go",
	"headtrue jig trace":             "jig_test.go",
	"headtrue panel":                 "the tests of package panel, by pages with and without a browser",
	"headtrue work monday.csv":       "work.txt",
	"headtrue work --card":           "work.txt",
	"headtrue study chart":           "study-chart.txt",
	"headtrue study reference":       "study-chart.txt",
	"headtrue study repeat report":   "study-repeat.txt",
	"headtrue work --batch":          "work.txt",
	"headtrue study repeat run":      "study-repeat.txt",
	"headtrue study drift run w":     "study-drift.txt",
	"headtrue study drift run l":     "TestADriftScheduleIsFollowedThroughARestart",
	"headtrue study drift rep":       "study-drift.txt",
	"arecord":                        "measure.txt",
	"headtrue logbook list --":       "logbook.txt",
	"headtrue align --virtual=f":     "faults.txt",
	"headtrue align --port /dev/pts": "TestTheExampleOfBenchWorks",
}

// onBench1 are what an example has for a real bench and another person's files, and what stands
// for it here: the kept deck bench1, and files that the test makes.
var onBench1 = []struct{ real, here string }{
	{`--port \S+ --audio \S+`, "--virtual=bench1"},
	{`--port \S+`, "--virtual=bench1"},
	{`--audio \S+`, "--virtual=bench1"},
	{`proof 20\S+Z `, "proof "},
	{`restore 20\S+Z `, "restore "},
	{`20240506T070809Z`, "$FIRST"},
	{`20240601T101112Z`, "$SECOND"},
	{`--head reverse`, "--head replay"},
	{`tone\.flac`, "tone.wav"},
	{`album\.flac|recording\.wav`, "after.wav"},
	{`align --virtual --seed 7`, "align --virtual=bench1"},
	{`restore --virtual=bench1`, "restore $NEWEST --virtual=bench1"},
	{`/mnt/safe/`, "safe-"},
	{`~/\.local/share/bash-completion/completions/headtrue`, "completions"},
	{`old/\*\.jsonl`, "all.jsonl"},
	{`--since 20\S+( --until 20\S+)?`, ""},
	{` \|\| echo ended.*`, ""},
}

// readmeLines is the number of command lines that the short tests run: about those of README.
const readmeLines = 12

// Every command line in README and every example in the help works. Lines run in the order in
// which they stand, in one folder.
func TestEveryExampleWorks(t *testing.T) {
	t.Parallel()
	home := atShell(t.TempDir())
	for _, line := range []string{
		"headtrue bench --keep bench1 --profile tone",
		"headtrue demo",
		"headtrue align --virtual=bench1 --tone 10k --unit D-104",
		"headtrue align --virtual=bench1 --tone 10k --unit REF",
		"headtrue sweep --virtual=bench1 --tone 10k --unit REF --from-deg -20 --to-deg 20 --step-deg 20",
		"headtrue logbook list | awk '$2 == \"align\" { print $1 }' > runs",
		"cp .local/share/headtrue/$(head -1 runs)-as-left.wav tone.wav",
	} {
		if err := home.run(line); err != nil {
			t.Fatal(err)
		}
	}
	ran := 0
	lines := exampleLines(t)
	if testing.Short() {
		lines = lines[:readmeLines]
	}
	for _, line := range lines {
		if testedElsewhere(line) {
			continue
		}
		for _, r := range onBench1 {
			line = regexp.MustCompile(r.real).ReplaceAllLiteralString(line, r.here)
		}
		if strings.Contains(line, "--virtual=bench1") && !strings.Contains(line, "--tone") && regexp.MustCompile(`headtrue (align|sweep|check) `).MatchString(line) {
			line += " --tone 10k"
		}
		ran++
		if err := home.run("FIRST=$(tail -1 runs) SECOND=$(head -1 runs) NEWEST=$(headtrue logbook list | awk '$2 == \"align\" { print $1; exit }'); " + line); err != nil {
			t.Error(err)
		}
	}
	if ran < 6 || ran < 35 && !testing.Short() {
		t.Errorf("only %d examples were run", ran)
	}
}

func testedElsewhere(line string) bool {
	for begins := range elsewhere {
		if strings.HasPrefix(line, begins) {
			return true
		}
	}
	return false
}

// exampleLines are the lines of README and of the examples of all commands, each once.
func exampleLines(t *testing.T) (lines []string) {
	seen := map[string]bool{}
	add := func(text string) {
		for line := range strings.SplitSeq(text, "\n") {
			line, _, _ = strings.Cut(strings.TrimSpace(line), "  ") // what follows explains it
			if !seen[line] && regexp.MustCompile(`^(\w+ .*\| )?headtrue `).MatchString(line) {
				seen[line] = true
				lines = append(lines, line)
			}
		}
	}
	readme, err := os.ReadFile("../../README.md")
	if err != nil {
		t.Fatal(err)
	}
	for line := range strings.SplitSeq(string(readme), "\n") {
		if strings.HasPrefix(line, "    ") {
			add(line)
		}
	}
	root := (&cli{out: io.Discard, data: io.Discard, err: &terminal.Screen{To: io.Discard}}).root()
	for _, cmd := range leaves(root) {
		add(cmd.Example)
	}
	return lines
}
