package logbook

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"math"
	"strings"
	"time"

	"headtrue/sweep/record"
)

// errTaken: the logbook has a run of that name.
var errTaken = errors.New("the name is taken")

// insertRun makes the row of a run from its first entry; it returns errTaken if the name is
// taken.
func insertRun(ctx context.Context, tx *sql.Tx, e record.Entry) (id int64, err error) {
	s := e.Start
	begun, err := time.Parse(time.RFC3339Nano, e.At)
	if err != nil {
		return 0, fmt.Errorf("run %s: when it began: %w", s.Run, err)
	}
	var temperature, humidity *float64
	if s.Ambient != nil {
		temperature, humidity = s.Ambient.TemperatureC, s.Ambient.HumidityPercent
	}
	err = tx.QueryRowContext(ctx, `INSERT INTO runs (run, format, begun_ms, command, program, port, virtual, unit, head, job,
		tape, operator, restore_of, proof_of, batch, study, trial, temperature_c, humidity_percent, bench)
		VALUES ($1, $2, $3, $4, $5, $6, $7, $8, $9, $10, $11, $12, $13, $14, $15, $16, $17, $18, $19, $20)
		ON CONFLICT (run) DO NOTHING RETURNING id`,
		s.Run, s.Version, begun.UnixMilli(), s.Command, s.Program, s.Port, s.Virtual, s.Unit, s.Head, s.Job,
		s.Tape, s.Operator, s.RestoreOf, s.ProofOf, s.Batch, s.Study, s.Trial, temperature, humidity, s.Bench).Scan(&id)
	if errors.Is(err, sql.ErrNoRows) {
		err = errTaken
	}
	return id, err
}

func insertEntry(ctx context.Context, tx *sql.Tx, id int64, n int, e record.Entry) error {
	text, err := encode(e)
	if err != nil {
		return err
	}
	_, err = tx.ExecContext(ctx, "INSERT INTO entries (run, n, body) VALUES ($1, $2, $3)", id, n, text)
	return err
}

// note copies figures of an entry into the row of the run.
func note(ctx context.Context, tx *sql.Tx, id int64, e record.Entry) error {
	var names []string
	values := []any{id}
	set := func(name string, value any) {
		values = append(values, value)
		names = append(names, fmt.Sprintf("%s = $%d", name, len(values)))
	}
	switch {
	case e.Found != nil:
		set("found", 1)
	case e.Decision != nil:
		d := e.Decision
		set("found_off_arcmin", d.FoundOffArcmin)
		set("found_off_sd_arcmin", known(d.FoundOffSDArcmin))
		set("optimum_sd_arcmin", known(d.Optimum.SDArcmin))
		set("gearing_arcmin_per_turn", known(d.GearingArcminPerTurn))
		if d.BacklashSDDeg > 0 {
			set("backlash_deg", d.BacklashDeg)
			set("backlash_sd_deg", d.BacklashSDDeg)
		}
	case e.Left != nil:
		set("left_off_arcmin", e.Left.OffArcmin)
		set("left_off_sd_arcmin", known(e.Left.OffSDArcmin))
	case e.End != nil:
		set("outcome", string(e.End.Outcome))
	}
	if e.TapeSeconds > 0 {
		set("tape_s", e.TapeSeconds)
	}
	if len(names) == 0 {
		return nil
	}
	_, err := tx.ExecContext(ctx, "UPDATE runs SET "+strings.Join(names, ", ")+" WHERE id = $1", values...)
	return err
}

// known returns nil for a figure that was not measured, or that a run by hand does not have.
func known(x float64) *float64 {
	if x == 0 || math.IsNaN(x) {
		return nil
	}
	return &x
}
