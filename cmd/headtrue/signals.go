package main

import (
	"context"
	"os"
	"os/signal"
	"slices"
	"sync"
	"syscall"
	"time"

	"headtrue/jig/fault"
	"headtrue/sweep/record"
)

// sameSignal is the interval within which a second signal counts as the first one repeated:
// wrappers that pass on a Ctrl-C send it twice.
const sameSignal = 250 * time.Millisecond

// interruptible returns a context that the first Ctrl-C (or a request to end, or a closed
// terminal) cancels, which stops the screw; the second exits at once. If one is inside
// another, both are cancelled, and the inner one's words are shown. stop ends it.
//
// From here on a broken pipe is an error of the write and no longer ends the program: nobody
// reads the progress any more, but the screw must still be stopped and the record closed.
func (c *cli) interruptible(ctx context.Context, first string) (_ context.Context, stop func()) {
	ctx, cancel := context.WithCancel(ctx)
	one := &interruption{first, cancel}
	signal.Ignore(syscall.SIGPIPE)
	c.interrupts.add(c, one)
	return ctx, func() {
		c.interrupts.remove(one)
		cancel()
	}
}

// interruption is the effect of the first Ctrl-C: the context it cancels and its message.
type interruption struct {
	words  string
	cancel context.CancelFunc
}

// interrupts are all interruptions in force, the innermost last.
type interrupts struct {
	mu     sync.Mutex
	inside []*interruption
	first  time.Time // time of the first signal; zero before
	ended  func()    // ends the goroutine that handles signals
}

// any reports whether a signal has anything to cancel.
func (i *interrupts) any() bool {
	i.mu.Lock()
	defer i.mu.Unlock()
	return len(i.inside) > 0
}

func (i *interrupts) add(a *cli, one *interruption) {
	i.mu.Lock()
	defer i.mu.Unlock()
	if i.inside = append(i.inside, one); len(i.inside) > 1 {
		return
	}
	i.first = time.Time{}
	signals, done := make(chan os.Signal, 2), make(chan struct{})
	signal.Notify(signals, os.Interrupt, syscall.SIGTERM, syscall.SIGHUP, syscall.SIGQUIT)
	i.ended = func() {
		signal.Stop(signals)
		close(done)
	}
	go func() { // ends when the outermost is removed
		defer fault.Recovered(func(err error) {
			i.cancelAll()
			a.showFault(err)
		})
		for {
			select {
			case <-done:
				return
			case <-signals:
				i.heed(a)
			}
		}
	}()
}

func (i *interrupts) remove(one *interruption) {
	i.mu.Lock()
	defer i.mu.Unlock()
	i.inside = slices.DeleteFunc(i.inside, func(o *interruption) bool { return o == one })
	if len(i.inside) == 0 {
		i.ended()
	}
}

// heed handles one signal.
func (i *interrupts) heed(a *cli) {
	i.mu.Lock()
	again, since := !i.first.IsZero(), time.Since(i.first)
	if !again {
		i.first = time.Now()
	}
	i.mu.Unlock()
	switch {
	case !again:
		if words := i.cancelAll(); words != "" {
			a.note("%s; Ctrl-C once more leaves at once", words)
		}
	case since >= sameSignal:
		a.note("leaving at once; the jig stops by itself when it no longer hears anything")
		os.Exit(exitOf(record.Interrupted))
	}
}

// cancelAll cancels all contexts and returns the words of the innermost.
func (i *interrupts) cancelAll() (words string) {
	i.mu.Lock()
	defer i.mu.Unlock()
	for _, one := range i.inside {
		one.cancel()
		words = one.words
	}
	return words
}

// quittable makes a SIGQUIT (Ctrl-\ in a terminal) end the program with code 1 if nothing
// must be stopped first: the Go runtime would exit with the code of a wrong command line.
// stop ends its goroutine.
func (c *cli) quittable() (stop func()) {
	quits, done := make(chan os.Signal, 1), make(chan struct{})
	signal.Notify(quits, syscall.SIGQUIT)
	go func() { // ends with stop
		for {
			select {
			case <-done:
				return
			case <-quits:
			}
			if !c.interrupts.any() {
				c.note("ended on request")
				os.Exit(exitUnexpected)
			}
		}
	}()
	return func() {
		signal.Stop(quits)
		close(done)
	}
}
