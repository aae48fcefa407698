package terminal

import (
	"os"

	"golang.org/x/term"

	"headtrue/jig/fault"
)

// Keys sends the keys one by one as they are typed. restore resets the terminal. The goroutine
// that reads cannot be interrupted and lives until another key or the end of the program;
// Ctrl-C comes as a key here.
func Keys(in *os.File) (keys <-chan byte, restore func(), err error) {
	before, err := term.MakeRaw(int(in.Fd()))
	if err != nil {
		return nil, nil, err
	}
	typed := make(chan byte)
	done := make(chan struct{})
	go func() { // ends with the input, or with the first key after restore
		defer close(typed)
		defer fault.Recovered(func(error) {}) // the end of the keys stops the screw
		one := make([]byte, 1)
		for {
			if n, err := in.Read(one); n == 0 || err != nil {
				return
			}
			select {
			case typed <- one[0]:
			case <-done:
				return
			}
		}
	}()
	return typed, func() { close(done); _ = term.Restore(int(in.Fd()), before) }, nil
}
