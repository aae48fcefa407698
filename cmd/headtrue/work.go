package main

import (
	"bufio"
	"bytes"
	"cmp"
	"context"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"time"

	"github.com/spf13/cobra"

	"headtrue/cmd/headtrue/app"
	"headtrue/sweep/logbook"
	"headtrue/sweep/production"
)

// workFlags are the flags of work, apart from the settings.
type workFlags struct {
	job          jobFlags
	batch        string
	sheets       string
	again        bool
	card         bool
	output       string
	since, until string
}

func (c *cli) workCommand() *cobra.Command {
	var flags workFlags
	cmd := &cobra.Command{
		Use:   "work [LIST.csv]",
		Short: "Set many units, one after the other, and sum a shift up",
		Long: `Set the heads of many units, one after the other. LIST is CSV with a header:
unit, and as needed head, job, deck (a profile), tape, maker, model, serial and
customer. It is checked as a whole before anything begins. Without LIST the label of
each unit is typed.

Type or scan (a scanner types, and ends with Enter) the label of the unit that is
next once it is on the bench: another label is refused. skip puts the unit back to
later, out takes it out of the batch, . or Enter alone ends. Each unit is checked
and set as by align, judged by the limits of its deck profile (deck.pass_..., see
headtrue config), sealed with lacquer and proved as by proof. Where the lacquer
needs time, later puts the proof off: the proofs due come when all units are set,
or when the label of such a unit is scanned. The cautions are asked once.

How far a batch has come is read from its runs in the logbook: after whatever has
interrupted it, the same command goes on. A unit that failed counts as done, unless
--again takes it up. The batch has the name of the list, or of the day, unless --batch
gives it another.

--card sums a batch up, or what was worked on since and until some time (without
any, today); -o FILE.csv writes its table as well. With --by-hand there is no jig:
you turn the screws, and are led as by align --by-hand. A virtual bench (--virtual) is
another deck for each label; a column virtual of the list names its profile. On a
kept deck (headtrue bench --keep bench1) each head of each unit is a kept deck, too,
D-101-replay@bench1, of the same profile: its proof can be put off to a later command.`,
		Example: `  headtrue work monday.csv --port /dev/ttyACM0 --audio pulse: --tone 10k
  headtrue work --batch repairs --port /dev/ttyACM0 --audio pulse: --tone 10k
  headtrue work --card --since 2024-05-06T06:00 --until 2024-05-06T14:00 -o shift.csv`,
		RunE: func(cmd *cobra.Command, args []string) error {
			if flags.card {
				return c.showCard(cmd, flags, args)
			}
			b, err := c.newBatch(cmd, flags, args)
			if err != nil {
				return err
			}
			defer b.Close()
			units, err := b.Work(cmd.Context())
			if err != nil {
				return err
			}
			return c.sumUp(b.Name, units)
		},
	}
	flags.add(cmd)
	return cmd
}

func (f *workFlags) add(cmd *cobra.Command) {
	f.job.add(cmd, "tone", "within", "window", "deck", "to", "reference-tape", "stop-and-measure", "both-sides")
	f.job.virtual.add(cmd.Flags())
	f.job.addItself(cmd)
	f.job.hand.add(cmd.Flags())
	own := cmd.Flags()
	own.StringVar(&f.batch, "batch", "", batchText)
	own.StringVar(&f.sheets, "sheets", "", "`folder` for the sheet of each unit (else sheets in the logbook's folder)")
	own.BoolVar(&f.again, "again", false, "take up units that failed once more")
	own.BoolVar(&f.card, "card", false, "sum up what was done; set nothing")
	addOutput(cmd, &f.output)
	own.StringVar(&f.since, "since", "", sinceText)
	own.StringVar(&f.until, "until", "", untilText)
}

// newBatch reads the list and everything needed for it. It opens nothing yet.
func (c *cli) newBatch(cmd *cobra.Command, flags workFlags, args []string) (*app.Batch, error) {
	if flags.output != "" || flags.since != "" || flags.until != "" {
		return nil, app.Wrong("--output, --since and --until are for --card")
	}
	first, err := c.newJob(cmd, "work", flags.job)
	if err != nil {
		return nil, err
	}
	if app.IsRaw(first.Settings.Audio) && !first.IsVirtual() {
		return nil, app.Wrong("--audio %s: standard input carries the sound of one run only; name a live input, as headtrue devices does", first.Settings.Audio)
	}
	b := &app.Batch{Name: flags.batch, Again: flags.again, Ask: app.ByText(c.asks(first)), Order: c.unitOrder(cmd, flags)}
	b.Sheet = func(ctx context.Context, rec logbook.Record) error {
		return c.sheetOfUnit(ctx, first, flags.sheets, rec)
	}
	if len(args) == 1 {
		if b.Items, err = readList(args[0]); err != nil {
			return nil, app.Wrong("%w", err)
		}
		b.Name = cmp.Or(b.Name, batchOf(args[0]))
		b.Listed = true
	}
	b.Name = cmp.Or(b.Name, time.Now().Format(time.DateOnly))
	b.Begin(first)
	return b, b.Check()
}

// unitOrder makes the request for a run on a unit of the list: the values of the list take
// precedence over the flags.
func (c *cli) unitOrder(cmd *cobra.Command, flags workFlags) func(it production.Item, command string) (app.Order, error) {
	return func(it production.Item, command string) (app.Order, error) {
		loaded, err := c.loadOver(cmd, it.Over, it.From)
		return orderOf(loaded, command, flags.job), err
	}
}

func readList(path string) ([]production.Item, error) {
	file, err := os.Open(path)
	if err != nil {
		return nil, fmt.Errorf("read the list: %w", err)
	}
	defer file.Close()
	return production.ReadList(file, path)
}

// asks puts a question to a person and returns the answer.
type asks func(ctx context.Context, question string) (string, error)

// asks returns the way to ask the person at the bench; nil if nobody can be asked. On a
// virtual bench standard input may hold the answers, one per line.
func (c *cli) asks(j *app.Job) asks {
	if t := c.terminal(j.Settings.Audio); t != nil {
		return t.Ask
	}
	if !j.IsVirtual() {
		return nil
	}
	lines := bufio.NewReader(c.in)
	return func(_ context.Context, question string) (string, error) {
		line, err := lines.ReadString('\n')
		c.note("%s%s", question, strings.TrimSpace(line))
		if err != nil {
			return "", errors.New("the answers have ended")
		}
		return strings.TrimSpace(line), nil
	}
}

// showCard shows the summary of a batch or of a period.
func (c *cli) showCard(cmd *cobra.Command, flags workFlags, args []string) error {
	loaded, err := c.load(cmd)
	if err != nil {
		return err
	}
	since, err := app.Instant("since", flags.since)
	if err != nil {
		return err
	}
	until, err := app.Instant("until", flags.until)
	if err != nil {
		return err
	}
	batch := flags.batch
	if batch == "" && len(args) == 1 {
		batch = batchOf(args[0])
	}
	if batch == "" && since.IsZero() {
		now := time.Now()
		since = time.Date(now.Year(), now.Month(), now.Day(), 0, 0, 0, 0, time.Local)
	}
	book, err := openExisting(loaded.Settings)
	if err != nil {
		return err
	}
	defer book.Close()
	defer c.err.During("reading the logbook")()
	units, err := app.UnitsOf(cmd.Context(), book, logbook.Filter{Batch: batch, Since: since, Real: batch == "" && !flags.job.virtual.given()})
	if err != nil {
		return err
	}
	units = production.During(units, since, until)
	if len(units) == 0 {
		return app.Wrong("no unit was worked on in %[2]s (logbook %[1]s)", book.Where(), production.Title(batch, since, until))
	}
	card := production.NewCard(production.Title(batch, since, until), units)
	if flags.output != "" {
		if err := writeCSV(card, flags.output); err != nil {
			return err
		}
	}
	return c.putCard(card)
}

func (c *cli) putCard(card production.Card) error {
	if c.json {
		return c.writeJSON(card)
	}
	_, err := fmt.Fprint(c.out, card.Text())
	return err
}

func writeCSV(card production.Card, path string) error {
	if !strings.EqualFold(filepath.Ext(path), ".csv") {
		return app.Wrong("--output %q: must end in .csv", path)
	}
	var b bytes.Buffer
	if err := card.CSV(&b); err != nil {
		return err
	}
	if err := os.WriteFile(path, b.Bytes(), 0o644); err != nil {
		return app.Wrong("--output: %w", err)
	}
	return nil
}

// batchOf is the name of a batch, from the name of its list.
func batchOf(list string) string {
	base := filepath.Base(list)
	return strings.TrimSuffix(base, filepath.Ext(base))
}

// sheetOfUnit writes the sheet of a run that has set a unit.
func (c *cli) sheetOfUnit(ctx context.Context, first *app.Job, folder string, rec logbook.Record) error {
	if folder == "" {
		folder = filepath.Join(first.Settings.Folder(), "sheets")
	}
	if err := os.MkdirAll(folder, 0o755); err != nil {
		return err
	}
	s := rec.Start()
	file := filepath.Join(folder, fmt.Sprintf("%s-%s-%s.pdf", s.Unit, s.Head, rec.Run))
	return c.writeSheet(ctx, first.Book(), first.Settings.Settings, sheetOrder{output: file, workshop: true}, []logbook.Record{rec})
}

// sumUp writes the card; its exit code reports whether every unit is done and has passed.
func (c *cli) sumUp(batch string, units []production.Unit) error {
	card := production.NewCard(production.Title(batch, time.Time{}, time.Time{}), units)
	if err := c.putCard(card); err != nil {
		return err
	}
	switch t := card.Totals; {
	case t.ToDo+t.ProofDue > 0:
		return &failure{code: exitToDo, err: errors.New("units or proofs are still to be done"), told: true}
	case t.Failed+t.Removed > 0:
		return &failure{code: exitNotPassed, err: errors.New("not every unit has passed"), told: true}
	}
	return nil
}
