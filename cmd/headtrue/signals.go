package main

import (
	"context"
	"os"
	"os/signal"
	"syscall"
	"time"

	"headtrue/sweep/record"
)

// sameSignal is how close a second signal counts as the first one over again:
// wrappers that pass a Ctrl-C on make two of it.
const sameSignal = 250 * time.Millisecond

// interruptible returns a context that the first Ctrl-C (or a request to end,
// or a closed terminal) cancels, which stops the screw; the second leaves at
// once. stop ends its goroutine.
//
// From here on a broken pipe is an error of the write and no longer the end of
// the program: nobody reads the progress any more, but the screw must still be
// stopped and the record closed.
func (a *app) interruptible(ctx context.Context, first string) (_ context.Context, stop func()) {
	ctx, cancel := context.WithCancel(ctx)
	signal.Ignore(syscall.SIGPIPE)
	signals := make(chan os.Signal, 2)
	signal.Notify(signals, os.Interrupt, syscall.SIGTERM, syscall.SIGHUP)
	done := make(chan struct{})
	go func() { // ends with stop
		var firstAt time.Time
		for {
			select {
			case <-done:
				return
			case <-signals:
			}
			switch {
			case firstAt.IsZero():
				firstAt = time.Now()
			case time.Since(firstAt) < sameSignal:
				continue
			default:
				a.note("leaving at once; the jig stops by itself when it no longer hears anything")
				os.Exit(exitOf(record.Interrupted))
			}
			cancel()
			a.note("%s; Ctrl-C once more leaves at once", first)
		}
	}()
	return ctx, func() {
		signal.Stop(signals)
		close(done)
		cancel()
	}
}
