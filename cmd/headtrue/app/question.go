package app

import (
	"context"
	"fmt"
)

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
	return func(ctx context.Context, q Question) (string, error) { return ask(ctx, q.Text) }
}

// cautiously puts the question of cautions.Accept, of which only the words change.
func cautiously(ask Ask) func(ctx context.Context, text string) (string, error) {
	return func(ctx context.Context, text string) (string, error) {
		return ask(ctx, Question{Kind: AskCautions, Text: text, Answers: yesOrNo})
	}
}

// Part asks whether a person's part is done.
func Part(format string, args ...any) Question {
	return Question{Kind: AskPart, Text: fmt.Sprintf(format, args...), Answers: []Answer{{"", "done"}}}
}
