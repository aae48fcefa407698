package main

import (
	"bytes"
	"context"
	"encoding/json"
	"errors"
	"math"
	"math/rand/v2"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"headtrue/cmd/headtrue/app"
	"headtrue/cmd/headtrue/terminal"
	"headtrue/sweep/logbook"
	"headtrue/sweep/record"
	"headtrue/sweep/study/report"
)

// ownTime is a clock that jumps to the time that is waited for. Before that it calls happens
// with that time.
type ownTime struct {
	time    time.Time
	happens func(time.Time) error
}

func (s *ownTime) clock() app.Clock {
	return app.Clock{Now: func() time.Time { return s.time }, Until: func(ctx context.Context, t time.Time) error {
		if s.happens != nil {
			if err := s.happens(t); err != nil {
				return err
			}
		}
		if t.After(s.time) {
			s.time = t
		}
		return ctx.Err()
	}}
}

// headtrueAt runs a command line with the given clock.
func headtrueAt(t *testing.T, c app.Clock, args ...string) (out string, err error) {
	t.Helper()
	var said, told bytes.Buffer
	front := &cli{clock: c, in: os.Stdin, out: &said, data: &said, err: &terminal.Screen{To: &told}}
	root := front.root()
	root.SetArgs(args)
	err = root.ExecuteContext(context.Background())
	t.Logf("headtrue %s: %v\n%s", strings.Join(args, " "), err, told.String())
	return said.String(), err
}

// ofItsOwn gives a test a logbook and no configuration.
func ofItsOwn(t *testing.T) (folder string) {
	folder = t.TempDir()
	for _, name := range []string{"HOME", "XDG_CONFIG_HOME"} {
		t.Setenv(name, folder)
	}
	t.Setenv("HEADTRUE_LOGBOOK", filepath.Join(folder, "logbook"))
	return folder
}

func reportOf(t *testing.T, c app.Clock, args ...string) (r report.Drift) {
	t.Helper()
	out, err := headtrueAt(t, c, append([]string{"study", "drift", "report", "--json"}, args...)...)
	if err != nil {
		t.Fatal(err)
	}
	if err := json.Unmarshal([]byte(out), &r); err != nil {
		t.Fatal(err)
	}
	return r
}

var errPower = errors.New("the power has gone")

// Three weeks with a point every twelve hours: at two points the start command fails, then the
// machine is off for three days, within which six points are due.
func TestADriftScheduleIsFollowedThroughARestart(t *testing.T) {
	folder := ofItsOwn(t)
	path := func(name string) string { return filepath.Join(folder, name) }
	first := time.Date(2026, 11, 2, 8, 0, 0, 0, time.UTC)
	s := &ownTime{time: first}
	s.happens = func(at time.Time) error {
		switch day := at.Sub(first).Hours() / 24; {
		case day == 2 || day == 3.5:
			return os.WriteFile(path("broken"), nil, 0o644)
		case day >= 5:
			return errPower
		}
		os.Remove(path("broken"))
		return nil
	}
	run := []string{"study", "drift", "run", "lacquer", "--virtual=tone", "--tone", "10k", "--set", "proof_seconds=1", "--ambient", "21.5",
		"--every", "12h", "--for", "21d",
		"--start-command", "echo start >> '" + path("log") + "'; test -e '" + path("left") + "' || { touch '" + path("left") + "'; sleep 300 & }; test ! -e '" + path("broken") + "'",
		"--stop-command", "echo stop >> '" + path("log") + "'"}
	if _, err := headtrueAt(t, s.clock(), run...); !errors.Is(err, errPower) {
		t.Fatalf("%v, want an end by the power", err)
	}
	s.time = s.time.Add(time.Hour) // the last point is not yet late, but is done
	if _, err := headtrueAt(t, s.clock(), run...); !errors.Is(err, errPower) {
		t.Fatalf("%v, want an end by the power", err)
	}
	s.time, s.happens = first.Add(8*24*time.Hour-time.Hour), nil // 10 points are done, six were due since
	if _, err := headtrueAt(t, s.clock(), "study", "drift", "run", "lacquer", "--virtual", "--every", "6h"); err == nil || !strings.Contains(err.Error(), "says otherwise") {
		t.Errorf("another interval: %v", err)
	}
	out, err := headtrueAt(t, s.clock(), "study", "drift", "run", "lacquer", "--virtual=tone", "--tone", "10k", "--set", "proof_seconds=1", "--ambient", "21.5", "--json")
	if err != nil || out != `{"study":"lacquer","points":43,"measured":35,"missed":8}`+"\n" {
		t.Fatalf("%v, %s", err, out)
	}
	r := reportOf(t, s.clock(), "lacquer")
	var missed []int
	for _, m := range r.Missing {
		want := "headtrue was not running"
		if m.Number < 10 {
			want = "not-ready: the start command failed"
		}
		if missed = append(missed, m.Number); !strings.HasPrefix(m.Why, want) {
			t.Errorf("point %d is missed: %s, want %s", m.Number, m.Why, want)
		}
	}
	if want := []int{5, 8, 11, 12, 13, 14, 15, 16}; !equal(missed, want) || len(r.Points) != 35 || r.ToCome != 0 {
		t.Errorf("missed %v, want %v; %d points, %d to come", missed, want, len(r.Points), r.ToCome)
	}
	for _, p := range r.Points {
		if off := p.Days - float64(p.Number-1)/2; math.Abs(off) > 1e-6 || p.TemperatureC == nil || *p.TemperatureC != 21.5 {
			t.Errorf("point %d at day %.4f, by the schedule %.1f; %v degrees", p.Number, p.Days, float64(p.Number-1)/2, p.TemperatureC)
		}
		if p.SDArcmin == nil || math.Abs(p.Arcmin-r.Points[0].Arcmin) > 5**p.SDArcmin {
			t.Errorf("point %d: %.2f', the first %.2f' of the same head", p.Number, p.Arcmin, r.Points[0].Arcmin)
		}
	}
	log, _ := os.ReadFile(path("log"))
	if starts, stops := strings.Count(string(log), "start"), strings.Count(string(log), "stop"); starts != 37 || stops != 37 {
		t.Errorf("started %d times and stopped %d times, want 37 of each", starts, stops)
	}
}

func equal(a, b []int) bool {
	if len(a) != len(b) {
		return false
	}
	for i := range a {
		if a[i] != b[i] {
			return false
		}
	}
	return true
}

// A silent tape gives missed points, each with its reason and no figure.
func TestASilentTapeMakesMissedPoints(t *testing.T) {
	ofItsOwn(t)
	s := &ownTime{time: time.Date(2026, 11, 2, 8, 0, 0, 0, time.UTC)}
	out, err := headtrueAt(t, s.clock(), "study", "drift", "run", "still", "--virtual=fault-tape-off", "--every", "1d", "--for", "1d", "--json")
	if err != nil || out != `{"study":"still","points":2,"measured":0,"missed":2}`+"\n" {
		t.Fatalf("%v, %s", err, out)
	}
	r := reportOf(t, s.clock(), "still")
	if len(r.Missing) != 2 || !strings.HasPrefix(r.Missing[0].Why, "silent: ") || len(r.Points) != 0 || len(r.Fits) != 0 {
		t.Errorf("%+v", r)
	}
}

// drifted records a study with a point every six hours for three weeks, without every ninth.
// The head moves as the law states, plus 0.05' per degree C and 0.05' of noise.
func drifted(t *testing.T, law func(days float64) float64) (c app.Clock) {
	t.Helper()
	ofItsOwn(t)
	book, err := logbook.Open(os.Getenv("HEADTRUE_LOGBOOK"), "")
	if err != nil {
		t.Fatal(err)
	}
	defer book.Close()
	first := time.Date(2026, 11, 2, 8, 0, 0, 0, time.UTC)
	plan := app.Schedule{Study: "lacquer", FirstDue: first, EverySeconds: 6 * 3600, Points: 85}
	if err := plan.Keep(book.Dir()); err != nil {
		t.Fatal(err)
	}
	rng := rand.New(rand.NewPCG(1, 2))
	for n := 1; n <= plan.Points; n++ {
		if n%9 == 0 {
			continue
		}
		days := float64(n-1) / 4
		warm := 20 + 3*math.Sin(2*math.Pi*days) + rng.NormFloat64()
		start := record.Start{Command: app.CommandDrift, Unit: "D-104", Study: "lacquer", Trial: n, Ambient: &record.Ambient{TemperatureC: &warm, From: "given"}}
		off := law(days) + 0.05*(warm-20) + 0.05*rng.NormFloat64()
		if _, err := book.Import(recordedAt(plan.Due(n), start, leftOff(off, 0.05), record.Measured)); err != nil {
			t.Fatal(err)
		}
	}
	return (&ownTime{time: plan.Late(plan.Points).Add(time.Hour)}).clock()
}

func paramOf(t *testing.T, f report.DriftFit, name string) report.DriftParam {
	t.Helper()
	for _, p := range f.Params {
		if p.Name == name {
			return p
		}
	}
	t.Fatalf("%s has no %s", f.Model, name)
	return report.DriftParam{}
}

func TestDriftReportFindsTheLaw(t *testing.T) {
	c := drifted(t, func(days float64) float64 { return 0.3 + 2*(1-math.Exp(-days/4)) })
	r := reportOf(t, c, "lacquer")
	if r.Fits[0].Model != "settling, with temperature" || len(r.Points) != 76 || len(r.Missing) != 9 || len(r.Shifts) > 0 && r.Fits[0].Scale > 2 {
		t.Fatalf("%s by %d points, %d missed", r.Fits[0].Model, len(r.Points), len(r.Missing))
	}
	for name, truth := range map[string]float64{"b": 2, "tau": 4, "temperature": 0.05} {
		if p := paramOf(t, r.Fits[0], name); math.Abs(p.Value-truth) > 3*p.SD || p.SD > truth/5 {
			t.Errorf("%s is %.3f +- %.3f, in truth %.3f", name, p.Value, p.SD, truth)
		}
	}
	out, err := headtrueAt(t, c, "study", "drift", "report", "lacquer")
	if err != nil || !strings.Contains(out, "Best: settling, with temperature.") || !strings.Contains(out, "76 measured, 9 missed, 0 to come") {
		t.Errorf("%v\n%s", err, out)
	}
	for _, line := range strings.Split(out, "\n") {
		if len([]rune(line)) > 80 {
			t.Errorf("wider than 80 columns: %q", line)
		}
	}
}

// A creep of 0.05' a day reaches 1.5' from its start on day 30.
func TestDriftReportForetellsWhenTheToleranceIsLeft(t *testing.T) {
	r := reportOf(t, drifted(t, func(days float64) float64 { return -4 + 0.05*days }), "lacquer", "--tolerance-arcmin", "1.5")
	l := r.Leaves
	if l == nil || l.Middle == nil || l.Latest == nil || math.Abs(*l.Middle-30) > 2 || !(*l.Earliest < 30 && 30 < *l.Latest) || math.Abs(l.Reference+4) > 0.1 {
		t.Errorf("%+v", l)
	}
}

// Lacquer moves the head by 0.8' on day 10; the fit uses the points after it.
func TestDriftReportTellsTheStepOfAnEvent(t *testing.T) {
	c := drifted(t, func(days float64) float64 {
		if days >= 10 {
			return 1.8
		}
		return 1
	})
	r := reportOf(t, c, "lacquer", "--event", "2026-11-12T08:00:00Z")
	e := r.Event
	if e == nil || e.Size == nil || math.Abs(*e.Size-0.8) > 4**e.SD || *e.SD > 0.1 || e.AtDays != 10 || e.Before+e.After != 76 {
		t.Fatalf("%+v", e)
	}
	if fit := r.Fits[0]; fit.N != e.After || math.Abs(paramOf(t, fit, "a").Value-1.8) > 0.1 {
		t.Errorf("%s by %d points, %d after the event: %+v", fit.Model, fit.N, e.After, fit.Params)
	}
	r = reportOf(t, c, "lacquer")
	if len(r.Shifts) != 1 || math.Abs(r.Shifts[0].Size-0.8) > 0.1 || !(r.Shifts[0].After < 10 && r.Shifts[0].Before >= 10) {
		t.Errorf("shifts without a word of the event: %+v", r.Shifts)
	}
}

// After an event, days count from it: a creep begins there.
func TestDriftReportCountsDaysFromTheEvent(t *testing.T) {
	c := drifted(t, func(days float64) float64 { return 1.8 + 0.1*(days-10) })
	fit := reportOf(t, c, "lacquer", "--event", "2026-11-12T08:00:00Z").Fits[0]
	if a := paramOf(t, fit, "a"); math.Abs(a.Value-1.8) > 4*a.SD || a.SD > 0.1 {
		t.Errorf("%s begins at %.2f' +- %.2f', want 1.8'", fit.Model, a.Value, a.SD)
	}
}
