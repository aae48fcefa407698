// Package app carries out a run for any front end: settings -> bench -> run -> logbook. It
// opens the port and the sound, or the virtual bench; asks the person; writes the record;
// reports how the last run ended; finds the run that a restore undoes; stores what was
// learnt about a unit; and decides who may move what: nothing turns before the cautions are
// accepted and a person, or the jig itself, seats the blade.
//
// Package sweep measures, decides and turns. The front end asks and shows; it passes in a
// Front. This package has no flags, no exit codes and no terminal, and it writes no results.
package app

import (
	"context"
	"errors"

	"headtrue/dsp/audio"
	"headtrue/jig"
	"headtrue/jig/fault"
	"headtrue/sweep"
	"headtrue/sweep/stream"
)

// Front is what a front end passes to a run. Ask, Orders and During may be nil.
type Front struct {
	// Note shows a line that is not a result.
	Note func(format string, args ...any)
	// Show is called with its job when a run begins. It returns the function that shows the run's
	// events, one after the other, at the front end's own pace.
	Show func(*Job) func(sweep.Event)
	// During shows what is being done while nothing else is shown, until stop is called; it may be
	// nil.
	During func(what string) (stop func())
	// Live adds readings to the events, some 25 a second.
	Live bool
	// Orders are a person's orders during a run, apart from stop; nil if no orders can be
	// given.
	Orders *stream.Orders
	// Ask is nil if nobody can be asked.
	Ask Ask
	// Jig is called with the jig as soon as it is open, so that it can be stopped and looked at
	// from outside the run, and with nil before it is closed; it may be nil.
	Jig func(*jig.Jig)
	// Sound is called with each block of sound that the run pulls; it may be nil. It must return
	// at once, and must not keep the block.
	Sound func(b audio.Block, rateHz int)
	// Interruptible returns a context that a person can end; it then shows what, the words for
	// the effect. stop is called when nothing is left to end.
	Interruptible func(ctx context.Context, what string) (_ context.Context, stop func())
}

func (f Front) during(what string) (stop func()) {
	if f.During == nil {
		return func() {}
	}
	return f.During(what)
}

// Fault shows an error of the program itself, with its stack.
func (f Front) Fault(err error) {
	f.Note("headtrue: %v", err)
	f.Stack(err)
}

// Stack shows the stack if err is a crash of the program.
func (f Front) Stack(err error) {
	var broke *fault.Error
	if errors.As(err, &broke) {
		f.Note("Please report this, with the lines below.\n%s", broke.Stack)
	}
}

// Question is what a person is asked. A front end with buttons offers Answers; one with a line
// to type in shows Text, which names them.
type Question struct {
	Kind    QuestionKind
	Text    string
	Answers []Answer
	Free    bool // any other text may be an answer, too
}

// QuestionKind is what a question is about.
type QuestionKind string

// Kinds of questions.
const (
	AskCautions QuestionKind = "cautions" // a motor, or a hand, turns after yes
	AskPart     QuestionKind = "part"     // a person's part at the bench is done
	AskSound    QuestionKind = "sound"    // the sound cannot be used as it is
	AskLabel    QuestionKind = "label"    // a label is scanned or typed
	AskChoice   QuestionKind = "choice"
	AskText     QuestionKind = "text"
)

// Answer is one of the answers that a question offers: what is sent, and what a button says.
type Answer struct {
	Answer string `json:"answer"`
	Say    string `json:"say"`
}

// yesOrNo are the answers to the cautions.
var yesOrNo = []Answer{{"yes", "yes"}, {"no", "no"}}

// Ask puts a question to a person and returns the answer.
type Ask func(ctx context.Context, q Question) (string, error)

// ByText makes an Ask of a way to ask with words alone; nil stays nil.
func ByText(ask func(ctx context.Context, question string) (string, error)) Ask {
	if ask == nil {
		return nil
	}
	return func(ctx context.Context, q Question) (string, error) {
		if q.Kind == AskPart {
			return ask(ctx, "  >> "+q.Text+", then press Enter: ")
		}
		return ask(ctx, q.Text)
	}
}

// Cautiously puts the question of cautions.Accept, of which only the words change.
func Cautiously(ask Ask) func(ctx context.Context, text string) (string, error) {
	return func(ctx context.Context, text string) (string, error) {
		return ask(ctx, Question{Kind: AskCautions, Text: text, Answers: yesOrNo})
	}
}

// Part asks for a person's part at the bench, such as "seat the blade", and whether it is done.
func Part(text string) Question {
	return Question{Kind: AskPart, Text: text, Answers: []Answer{{"", "done"}}}
}
