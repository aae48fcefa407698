package main

import (
	"cmp"
	"encoding/json"
	"fmt"
	"slices"
	"strconv"
	"strings"
	"time"

	"github.com/rogpeppe/go-internal/testscript"

	"headtrue/sweep/logbook"
	"headtrue/sweep/record"
	"headtrue/sweep/study"
)

// recordedAt is a past run with a figure in its middle entry.
func recordedAt(at time.Time, s record.Start, middle record.Entry, outcome record.Outcome) []record.Entry {
	stamp := func(after time.Duration) string { return at.Add(after).UTC().Format("2006-01-02T15:04:05.000Z") }
	s.Version, s.Run, s.Program = record.Version, at.UTC().Format("20060102T150405Z"), "headtrue test"
	middle.At, middle.TapeSeconds = stamp(9*time.Second), 9
	return []record.Entry{{Kind: record.KindStart, At: stamp(0), Start: &s}, middle,
		{Kind: record.KindEnd, At: stamp(10 * time.Second), TapeSeconds: 10, End: &record.End{Outcome: outcome, Say: "so"}}}
}

func leftOff(arcmin, sd float64) record.Entry {
	return record.Entry{Kind: record.KindLeft, Left: &record.Left{OffArcmin: &arcmin, OffSDArcmin: sd}}
}

// shifted UNIT fills the logbook with two runs a day that leave the head alternately +0.2' and
// -0.2' off for twelve days, then +0.1' for four, and +2' in the last run.
func shifted(ts *testscript.TestScript, _ bool, args []string) {
	book, err := logbook.Open(ts.Getenv("HEADTRUE_LOGBOOK"), "")
	ts.Check(err)
	defer book.Close()
	first := time.Date(2026, 11, 2, 12, 0, 0, 0, time.UTC)
	for i := range 33 {
		off := []float64{0.2, -0.2}[i%2]
		if i >= 24 {
			off = 0.1
		}
		if i == 32 {
			off = 2
		}
		at := first.AddDate(0, 0, i/2).Add(time.Duration(i%2) * time.Hour)
		_, err := book.Import(recordedAt(at, record.Start{Command: "align", Unit: args[0], Operator: "K"}, leftOff(off, 0.1), record.Aligned))
		ts.Check(err)
	}
}

// deeper FILE PATH VALUE compares the value at a path such as findings.0.run in a JSON file; a
// number may differ in the last digits.
func deeper(ts *testscript.TestScript, _ bool, args []string) {
	got := at(ts, args[0], args[1])
	if x, ok := got.(float64); ok {
		got = strconv.FormatFloat(x, 'g', 6, 64)
	}
	if fmt.Sprint(got) != args[2] {
		ts.Fatalf("%s is %v, want %s", args[1], got, args[2])
	}
}

// at is the value at a path in a JSON file; count at its end counts a list.
func at(ts *testscript.TestScript, file, path string) any {
	var value any
	ts.Check(json.Unmarshal([]byte(ts.ReadFile(file)), &value))
	for _, key := range strings.Split(path, ".") {
		switch v := value.(type) {
		case map[string]any:
			value = v[key]
		case []any:
			if key == "count" {
				return float64(len(v))
			}
			i, err := strconv.Atoi(key)
			ts.Check(err)
			value = v[i]
		}
	}
	return value
}

// sameStudy REPORT NAME compares a report with the analysis of the study's runs, read from
// their entries and the plan.
func sameStudy(ts *testscript.TestScript, _ bool, args []string) {
	plan := strings.Split(strings.TrimSpace(ts.ReadFile(ts.Getenv("HEADTRUE_LOGBOOK")+"/studies/"+args[1]+".csv")), "\n")[1:]
	var all []study.Measurement
	runs := recordsIn(ts, ts.Getenv("HEADTRUE_LOGBOOK"))
	slices.SortFunc(runs, func(a, b logbook.Record) int { return cmp.Compare(a.Start().Trial, b.Start().Trial) })
	for _, rec := range runs {
		if end := rec.End(); end == nil || end.Outcome != record.Measured {
			continue
		}
		row := strings.Split(plan[rec.Start().Trial-1], ",")
		if s := rec.Start(); s.Unit != row[1] || s.Operator != row[2] || s.Study != args[1] {
			ts.Fatalf("run %s is for unit %s, operator %s, the plan has %q", rec.Run, s.Unit, s.Operator, row)
		}
		for _, e := range rec.Entries {
			if e.Decision != nil {
				all = append(all, study.Measurement{Unit: row[1], Operator: row[2], Reseating: row[3], Arcmin: *e.Decision.FoundOffArcmin})
			}
		}
	}
	want, err := study.Crossed(all, study.PoolByTest)
	ts.Check(err)
	for path, value := range map[string]float64{
		"crossed.table.0.ss_arcmin2": want.Table[0].SS, "crossed.table.0.f": want.Table[0].F, "crossed.components.0.sd_arcmin": want.Repeatability.SDArcmin,
		"crossed.categories": float64(want.Categories), "done": float64(len(all)), "budget.sources.0.sd_arcmin": want.Repeatability.SDArcmin,
	} {
		if got := at(ts, args[0], path); got != value {
			ts.Fatalf("%s is %v, the runs say %v", path, got, value)
		}
	}
}
