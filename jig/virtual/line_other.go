//go:build !unix

package virtual

import (
	"context"
	"errors"
)

// Line is a pseudo-terminal with the jig at its far end.
type Line struct {
	// Path is the path that a host opens.
	Path string
}

// OpenLine fails: this system has no pseudo-terminals. Pipe works everywhere.
func OpenLine(context.Context, Board) (*Line, error) {
	return nil, errors.New("virtual jig: this system has no pseudo-terminals; use the connection in memory")
}

// Close does nothing.
func (l *Line) Close() error { return nil }
