package main

import (
	"context"
	"os"
	"os/signal"
	"syscall"
	"time"

	"headtrue/jig/fault"
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
	signal.Notify(signals, os.Interrupt, syscall.SIGTERM, syscall.SIGHUP, syscall.SIGQUIT)
	a.heeding.Add(1)
	done := make(chan struct{})
	go func() { // ends with stop
		defer fault.Recovered(func(err error) {
			cancel()
			a.showFault(err)
		})
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
		a.heeding.Add(-1)
		close(done)
		cancel()
	}
}

// quittable has a SIGQUIT (Ctrl-\ in a terminal) end the program with code 1 if nothing is
// to be stopped first: the code of the Go runtime's own end would be that of a wrong
// command line. stop ends its goroutine.
func (a *app) quittable() (stop func()) {
	quits, done := make(chan os.Signal, 1), make(chan struct{})
	signal.Notify(quits, syscall.SIGQUIT)
	go func() { // ends with stop
		for {
			select {
			case <-done:
				return
			case <-quits:
			}
			if a.heeding.Load() == 0 {
				a.note("ended on request")
				os.Exit(exitUnexpected)
			}
		}
	}()
	return func() {
		signal.Stop(quits)
		close(done)
	}
}
