package logbook

import (
	"context"
	"database/sql"
	"fmt"
	"iter"
	"math"
	"strings"
	"time"

	"headtrue/sweep/record"
)

// Summary is one run for lists and charts. A figure that was not measured is nil.
type Summary struct {
	Run                  string         `json:"run" help:"name of the run"`
	Begun                time.Time      `json:"begun" help:"when it began, UTC"`
	Command              string         `json:"command"`
	Program              string         `json:"program" help:"the command, and the version of headtrue"`
	Port                 string         `json:"port,omitempty"`
	Virtual              string         `json:"virtual,omitempty" help:"serial port of the jig, or the profile of the virtual bench"`
	Unit                 string         `json:"unit,omitempty"`
	Head                 string         `json:"head,omitempty"`
	Job                  string         `json:"job,omitempty"`
	Tape                 string         `json:"tape,omitempty"`
	Operator             string         `json:"operator,omitempty" help:"names of your own"`
	RestoreOf            string         `json:"restore_of,omitempty"`
	ProofOf              string         `json:"proof_of,omitempty" help:"the run that was undone, or proved"`
	Batch                string         `json:"batch,omitempty" help:"the batch of the run"`
	Study                string         `json:"study,omitempty"`
	Trial                int            `json:"trial,omitempty" help:"the study of the run, and its first trial"`
	TemperatureC         *float64       `json:"temperature_c"`
	HumidityPercent      *float64       `json:"humidity_percent" help:"air at the bench"`
	FoundKnown           bool           `json:"found_known" help:"whether as found is recorded"`
	Outcome              record.Outcome `json:"outcome" help:"empty if the run was cut off"`
	TapeSeconds          float64        `json:"tape_seconds" help:"tape used"`
	FoundOffArcmin       *float64       `json:"found_off_arcmin"`
	FoundOffSDArcmin     *float64       `json:"found_off_sd_arcmin" help:"tilt of the head from the optimum as found, and its standard uncertainty"`
	LeftOffArcmin        *float64       `json:"left_off_arcmin"`
	LeftOffSDArcmin      *float64       `json:"left_off_sd_arcmin" help:"the same as left"`
	OptimumSDArcmin      *float64       `json:"optimum_sd_arcmin" help:"standard uncertainty of the optimum"`
	GearingArcminPerTurn *float64       `json:"gearing_arcmin_per_turn" help:"tilt per turn of the screw"`
	BacklashDeg          *float64       `json:"backlash_deg"`
	BacklashSDDeg        *float64       `json:"backlash_sd_deg" help:"backlash, and its standard uncertainty"`

	// TapeS is TapeSeconds under its former name, until the first release.
	TapeS float64 `json:"tape_s" help:"tape_seconds under its former name"`

	id      int64
	format  int
	spooled bool // it is in the spool of a logbook on a server
}

const summaryColumns = `id, format, run, begun_ms, command, program, port, virtual, unit, head, job, tape, operator,
	restore_of, proof_of, batch, study, trial, temperature_c, humidity_percent, found, outcome, tape_s, found_off_arcmin, found_off_sd_arcmin,
	left_off_arcmin, left_off_sd_arcmin, optimum_sd_arcmin, gearing_arcmin_per_turn, backlash_deg, backlash_sd_deg`

// targets are the destinations of the columns; begun and found are separate.
func (s *Summary) targets(begunMS *int64, found *int) []any {
	return []any{&s.id, &s.format, &s.Run, begunMS, &s.Command, &s.Program, &s.Port, &s.Virtual, &s.Unit, &s.Head, &s.Job, &s.Tape,
		&s.Operator, &s.RestoreOf, &s.ProofOf, &s.Batch, &s.Study, &s.Trial, &s.TemperatureC, &s.HumidityPercent, found, &s.Outcome, &s.TapeSeconds,
		&s.FoundOffArcmin, &s.FoundOffSDArcmin, &s.LeftOffArcmin, &s.LeftOffSDArcmin, &s.OptimumSDArcmin, &s.GearingArcminPerTurn,
		&s.BacklashDeg, &s.BacklashSDDeg}
}

func (b *Book) list(ctx context.Context, f Filter) iter.Seq2[Summary, error] {
	return func(yield func(Summary, error) bool) {
		where, values := f.where()
		rows, err := b.db.QueryContext(ctx, "SELECT "+summaryColumns+" FROM runs"+where+f.order(), values...)
		if err != nil {
			yield(Summary{}, fmt.Errorf("list the logbook: %w", damagedStore(err)))
			return
		}
		defer rows.Close()
		for rows.Next() {
			s, err := summaryOf(rows)
			if err != nil {
				s = Summary{Run: runOf(rows)}
				err = &DamagedError{s.Run, err}
			}
			if !yield(s, err) {
				return
			}
		}
		if err := rows.Err(); err != nil {
			yield(Summary{}, fmt.Errorf("list the logbook: %w", damagedStore(err)))
		}
	}
}

func summaryOf(rows *sql.Rows) (s Summary, err error) {
	var begunMS int64
	var found int
	if err := rows.Scan(s.targets(&begunMS, &found)...); err != nil {
		return s, err
	}
	s.TapeS = s.TapeSeconds
	s.Begun, s.FoundKnown = time.UnixMilli(begunMS).UTC(), found == 1
	return s, finite(&s.TapeSeconds, s.TemperatureC, s.HumidityPercent, s.FoundOffArcmin, s.FoundOffSDArcmin, s.LeftOffArcmin,
		s.LeftOffSDArcmin, s.OptimumSDArcmin, s.GearingArcminPerTurn, s.BacklashDeg, s.BacklashSDDeg)
}

func finite(figures ...*float64) error {
	for _, x := range figures {
		if x != nil && (math.IsNaN(*x) || math.IsInf(*x, 0)) {
			return fmt.Errorf("its row holds %g as a figure", *x)
		}
	}
	return nil
}

// runOf returns the name in a row whose other columns may hold anything.
func runOf(rows *sql.Rows) string {
	columns, err := rows.Columns()
	values, to := make([]any, len(columns)), make([]any, len(columns))
	for i := range to {
		to[i] = &values[i]
	}
	if err != nil || rows.Scan(to...) != nil {
		return "(without a name)"
	}
	for i, column := range columns {
		if name, ok := values[i].(string); ok && column == "run" && name != "" {
			return name
		}
	}
	return fmt.Sprintf("(row %v)", values[0])
}

// Filter selects runs. An empty field selects all.
type Filter struct {
	Unit, Head, Job, Tape, Operator, Command, Port string
	// Outcome is one of record's; CutOff selects runs without an end instead.
	Outcome record.Outcome
	CutOff  bool
	// Since and Until limit the beginning of a run; Until itself is excluded.
	Since, Until time.Time
	// Real excludes virtual benches, Virtual excludes real ones.
	Real, Virtual bool
	// Restorable selects runs that recorded as found and are neither restores nor proofs.
	Restorable bool
	// SetHead selects runs that set a head and measured the error as left.
	SetHead bool
	// ProofOf is the run that a proof checks; Batch and Study are what a run belongs to.
	ProofOf, Batch, Study string
	// Bench is record.Start's field of that name.
	Bench string
	// Here excludes imported runs and sorts by the order of writing: the newest run was
	// made last, regardless of the clock.
	Here bool
	// Limit is the greatest number of runs, 0 for all. OldestFirst reverses the order.
	Limit       int
	OldestFirst bool
}

// where returns the filter as SQL, with its values.
func (f Filter) where() (string, []any) {
	var all []string
	var values []any
	add := func(condition string, value any) {
		values = append(values, value)
		all = append(all, fmt.Sprintf(condition, len(values)))
	}
	for _, same := range []struct{ column, value string }{{"unit", f.Unit}, {"head", f.Head}, {"job", f.Job}, {"tape", f.Tape},
		{"operator", f.Operator}, {"command", f.Command}, {"port", f.Port}, {"outcome", string(f.Outcome)}, {"proof_of", f.ProofOf},
		{"batch", f.Batch}, {"study", f.Study}, {"bench", f.Bench}} {
		if same.value != "" {
			add(same.column+" = $%d", same.value)
		}
	}
	for condition, asked := range map[string]bool{"outcome = ''": f.CutOff, "imported = 0": f.Here, "virtual = ''": f.Real, "virtual <> ''": f.Virtual,
		"found = 1 AND restore_of = '' AND proof_of = ''":                     f.Restorable,
		"command = 'align' AND left_off_arcmin IS NOT NULL AND outcome <> ''": f.SetHead} {
		if asked {
			all = append(all, condition)
		}
	}
	if !f.Since.IsZero() {
		add("begun_ms >= $%d", f.Since.UnixMilli())
	}
	if !f.Until.IsZero() {
		add("begun_ms < $%d", f.Until.UnixMilli())
	}
	if len(all) == 0 {
		return "", nil
	}
	return " WHERE " + strings.Join(all, " AND "), values
}

func (f Filter) order() string {
	order := " ORDER BY begun_ms DESC, id DESC"
	switch {
	case f.Here && f.OldestFirst:
		order = " ORDER BY id"
	case f.Here:
		order = " ORDER BY id DESC"
	case f.OldestFirst:
		order = " ORDER BY begun_ms, id"
	}
	if f.Limit > 0 {
		order += fmt.Sprintf(" LIMIT %d", f.Limit)
	}
	return order
}
