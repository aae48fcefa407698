package app

import (
	"context"
	"encoding/csv"
	"errors"
	"io/fs"
	"os"
	"path/filepath"
	"slices"
	"strconv"
	"strings"

	"headtrue/cmd/headtrue/settings"
	"headtrue/sweep/logbook"
	"headtrue/sweep/record"
	"headtrue/sweep/study/report"
)

var planColumns = []string{"number", "unit", "operator", "reseating", "repeat"}

// planFile is the path of the plan of a study.
func planFile(folder, name, ending string) string {
	return filepath.Join(folder, "studies", name+ending)
}

// keepPlan writes a new plan completely or not at all.
func keepPlan(file, text string) error {
	if _, err := os.Stat(file); !errors.Is(err, fs.ErrNotExist) {
		return Wrong("%s is there already: choose another name for the study", file)
	}
	return settings.WriteWhole(file, text)
}

// KeepTrials writes the plan of a new study and returns its file.
func KeepTrials(folder, name string, all []report.Trial) (file string, err error) {
	text, err := planText(all)
	if err != nil {
		return "", err
	}
	file = planFile(folder, name, ".csv")
	return file, keepPlan(file, text)
}

func planText(all []report.Trial) (string, error) {
	var b strings.Builder
	w := csv.NewWriter(&b)
	rows := [][]string{planColumns}
	for _, t := range all {
		rows = append(rows, []string{strconv.Itoa(t.Number), t.Unit, t.Operator, strconv.Itoa(t.Reseating), strconv.Itoa(t.Repeat)})
	}
	err := w.WriteAll(rows)
	return b.String(), err
}

// ReadTrials reads the plan of a repeatability study.
func ReadTrials(folder, name string) ([]report.Trial, error) {
	file := planFile(folder, name, ".csv")
	f, err := os.Open(file)
	if err != nil {
		return nil, Wrong("no plan of that name (%w): make one with headtrue study repeat plan", err)
	}
	defer f.Close()
	rows, err := csv.NewReader(f).ReadAll()
	if err != nil {
		return nil, Wrong("%s: %w", file, err)
	}
	if len(rows) < 2 || !slices.Equal(rows[0], planColumns) {
		return nil, Wrong("%s: it must begin with %s and hold trials", file, strings.Join(planColumns, ","))
	}
	var all []report.Trial
	for i, row := range rows[1:] {
		t := report.Trial{Unit: row[1], Operator: row[2]}
		var errs [3]error
		t.Number, errs[0] = strconv.Atoi(row[0])
		t.Reseating, errs[1] = strconv.Atoi(row[3])
		t.Repeat, errs[2] = strconv.Atoi(row[4])
		if err := errors.Join(errs[:]...); err != nil || t.Number != i+1 {
			return nil, Wrong("%s, line %d: %q is no trial number %d", file, i+2, row, i+1)
		}
		all = append(all, t)
	}
	return all, nil
}

// TrialReading is the result of a trial, and its run.
type TrialReading struct {
	Run    string
	Arcmin float64
	// DelaySDArcmin is the part of its uncertainty that the fixed delay between the channels
	// causes, which is alike in all readings of a unit.
	DelaySDArcmin float64
}

// delaySD returns the part of a decision's uncertainty that the fixed delay causes: the
// uncertainty of the delay zero, by its weight beside the treble's centre.
func delaySD(d *record.Decision) float64 {
	switch zero, fitted := d.DelayZero, d.Fitted; {
	case !zero.OK || d.SecondSourceHeard:
		return 0
	case !fitted.OK || zero.SDArcmin == 0:
		return zero.SDArcmin
	default:
		a, b := fitted.SDArcmin*fitted.SDArcmin, zero.SDArcmin*zero.SDArcmin
		return zero.SDArcmin * a / (a + b)
	}
}

// Readings returns the readings of a study by trial number. A run that broke off gives none:
// its seating is measured anew, since the blade cannot be seated as it was.
func Readings(ctx context.Context, b *logbook.Book, name string) (map[int]TrialReading, error) {
	all := map[int]TrialReading{}
	for rec, err := range b.Records(ctx, logbook.Filter{Study: name, Command: CommandRepeat, OldestFirst: true}) {
		if err != nil {
			return nil, err
		}
		if end := rec.End(); end == nil || end.Outcome != record.Measured && end.Outcome != record.RestoreDoubt {
			continue
		}
		number := rec.Start().Trial
		for _, e := range rec.Entries {
			if e.Decision == nil || e.Decision.FoundOffArcmin == nil {
				continue
			}
			if _, twice := all[number]; !twice {
				all[number] = TrialReading{rec.Run, *e.Decision.FoundOffArcmin, delaySD(e.Decision)}
			}
			number++
		}
	}
	return all, nil
}

// CheckStudy checks that a name is allowed for a study, or for a unit or operator in it.
func CheckStudy(name string) error {
	if name == "" {
		return Wrong("a study, a unit and an operator of it need a name")
	}
	if err := settings.CheckLabel(name); err != nil {
		return Wrong("%w", err)
	}
	return nil
}
