package kept

import (
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"strings"
)

// lock is a kept deck's lock: a file of its own, since that of the deck is replaced. The system
// releases it when its process ends, however that ends. The file stays and means nothing.
type lock struct{ file *os.File }

// Close releases the lock; nil has none.
func (l *lock) Close() error {
	if l == nil {
		return nil
	}
	return l.file.Close()
}

// BusyError is the error of a kept deck that another program runs.
type BusyError struct{ Deck, By, File string }

func (e *BusyError) Error() string {
	return fmt.Sprintf("the kept deck %q is in use: %s has locked %s", e.Deck, e.By, e.File)
}

// errHeld is the error of a file that another process has locked.
var errHeld = errors.New("held by another process")

// lockDeck locks a deck for a program of this name.
func lockDeck(deck, program string) (*lock, error) {
	if err := os.MkdirAll(folder(), 0o755); err != nil {
		return nil, err
	}
	path := filepath.Join(folder(), deck+".lock")
	file, err := os.OpenFile(path, os.O_RDWR|os.O_CREATE, 0o644)
	if err != nil {
		return nil, err
	}
	if err := tryLock(file); err != nil {
		if errors.Is(err, errHeld) {
			by, _ := os.ReadFile(path) // empty, if the other has not written yet
			err = &BusyError{deck, strings.TrimSpace("another headtrue " + string(by)), path}
		}
		return nil, errors.Join(err, file.Close())
	}
	err = file.Truncate(0)
	if err == nil {
		_, err = fmt.Fprintf(file, "(%s, process %d)", program, os.Getpid())
	}
	if err != nil {
		return nil, errors.Join(err, file.Close())
	}
	return &lock{file}, nil
}
