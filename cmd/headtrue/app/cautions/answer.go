package cautions

import (
	"context"
	"errors"
	"fmt"
	"strings"
)

// Ask puts a question to a person and returns the answer.
type Ask func(ctx context.Context, question string) (string, error)

// mostAsked is how often a question is put before another answer than yes counts as no.
const mostAsked = 3

// Accept puts a question until the answer is yes or no. It returns an error unless it is yes.
func Accept(ctx context.Context, ask Ask, question string) error {
	question += " (no ends it.) Type yes: "
	for range mostAsked {
		answer, err := ask(ctx, question)
		switch {
		case err != nil:
			return err
		case IsWord(answer, "yes"):
			return nil
		case IsWord(answer, "no"):
			return errors.New("the answer was no")
		}
		question = fmt.Sprintf("The answer was %q. Type yes to go on, or no to end: ", answer)
	}
	return fmt.Errorf("no answer was yes; begin again when you are ready")
}

// IsWord reports whether an answer is a word, in capitals or not, with or without blanks around.
func IsWord(answer, word string) bool { return strings.EqualFold(strings.TrimSpace(answer), word) }
