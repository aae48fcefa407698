// Package panel is the page at a bench: one page, served to this machine only, that shows a run
// and gives its orders. It reads the events of a run as any other reader does, never holds it up,
// and computes nothing: package app carries out the work, sweep and dsp measure.
//
// MESSAGES.md is the contract between page and server.
package panel

import (
	"context"
	"crypto/rand"
	"embed"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"net"
	"net/http"
	"net/netip"
	"sync"
	"sync/atomic"
	"time"

	"headtrue/cmd/headtrue/app"
	"headtrue/cmd/headtrue/settings"
	"headtrue/jig/fault"
)

//go:embed page/*.html page/*.css page/*.js page/*.svg
var embedded embed.FS

// Order is the request for a panel.
type Order struct {
	Address string // HOST:PORT, loopback only; port 0 takes a free one
	Program string // name and version
	// Load reads the settings, with values of a page over all others.
	Load      func(over map[string]string, from string) (settings.Loaded, error)
	Virtual   string // name of the virtual deck, as kept.Find takes it; "" is a real bench
	Seed      uint64
	SeedGiven bool
	Pace      float64 // how many times real time a virtual bench runs; 0 is as fast as it can
	// Silent makes the panel listen only when a page says so.
	Silent bool
	Note   func(format string, args ...any)
	// trace gets what passes on the link of a nudge, for a benchmark; nil if nobody wants it.
	trace io.Writer
}

// Panel is a panel that serves, or is about to.
type Panel struct {
	order Order
	line  net.Listener
	token string
	hosts []string // that a request may name
	begun time.Time
	board *board
	desk  *desk
	pages atomic.Int64 // that have come so far
}

// New checks the order and takes the address. Serve must follow, or Close.
func New(o Order) (*Panel, error) {
	at, err := loopback(o.Address)
	if err != nil {
		return nil, err
	}
	if _, err := o.Load(nil, ""); err != nil { // before a page shows it
		return nil, err
	}
	line, err := net.Listen("tcp", at.String())
	if err != nil {
		return nil, app.NotReady("name another port with --address 127.0.0.1:PORT", "the panel's address: %w", err)
	}
	port := line.Addr().(*net.TCPAddr).Port
	p := &Panel{order: o, line: line, token: rand.Text(), begun: time.Now(), board: newBoard(),
		hosts: []string{fmt.Sprintf("127.0.0.1:%d", port), fmt.Sprintf("localhost:%d", port), fmt.Sprintf("[::1]:%d", port)}}
	p.desk = newDesk(o, p.board, p.now)
	return p, nil
}

// loopback reads an address, and refuses one that other machines can reach.
func loopback(address string) (netip.AddrPort, error) {
	at, err := netip.ParseAddrPort(address)
	switch {
	case err != nil:
		return at, app.Wrong("--address %q: must be an address of this machine with a port, as 127.0.0.1:8475", address)
	case !at.Addr().IsLoopback():
		return at, app.Wrong("--address %s: a panel moves a motor, and is served to this machine only, at 127.0.0.1 or [::1]; from another machine use a tunnel: ssh -L %d:127.0.0.1:%[2]d THIS-MACHINE, and open the page there",
			address, at.Port())
	}
	return at, nil
}

// URL is the address of the page, with the token that lets it in.
func (p *Panel) URL() string { return "http://" + p.line.Addr().String() + "/#" + p.token }

// Close gives the address back if Serve was never called.
func (p *Panel) Close() error { return p.line.Close() }

// now is the panel's clock, milliseconds.
func (p *Panel) now() int64 { return time.Since(p.begun).Milliseconds() }

// Limits of the server. A page is small, and its requests are smaller.
const (
	mostHeader  = 16 << 10
	readsWithin = 10 * time.Second
	idlesFor    = 2 * time.Minute
	endsWithin  = 3 * time.Second
)

// Serve serves the page until ctx ends. Then the motor is stopped, and what is under way ends.
func (p *Panel) Serve(ctx context.Context) error {
	ctx, cancel := context.WithCancel(ctx)
	defer cancel()
	var tasks sync.WaitGroup
	var broke error
	task := func(work func()) {
		tasks.Go(func() {
			defer fault.Recovered(func(err error) {
				broke = err
				cancel()
			})
			work()
		})
	}
	task(func() { p.desk.watch(ctx) })
	task(func() { p.desk.sound.run(ctx) })
	server := &http.Server{Handler: p.handler(ctx), ReadHeaderTimeout: readsWithin, IdleTimeout: idlesFor, MaxHeaderBytes: mostHeader}
	served := make(chan error, 1)
	go func() { served <- server.Serve(p.line) }() // ends with Shutdown or Close
	if !p.order.Silent {
		p.desk.begin()
	}
	var err error
	select {
	case err = <-served:
	case <-ctx.Done():
	}
	p.desk.close()
	cancel()
	ending, done := context.WithTimeout(context.WithoutCancel(ctx), endsWithin)
	defer done()
	if server.Shutdown(ending) != nil {
		_ = server.Close() // a reader that does not go
	}
	if tasks.Wait(); broke != nil {
		return broke
	}
	if errors.Is(err, http.ErrServerClosed) {
		return nil
	}
	return err
}

// handler is everything that is served, behind the guard.
func (p *Panel) handler(ctx context.Context) http.Handler {
	pages, err := fs.Sub(embedded, "page")
	if err != nil {
		panic(err) // the folder is embedded
	}
	mux := http.NewServeMux()
	files := http.FileServerFS(pages)
	mux.Handle("GET /{$}", files)
	mux.Handle("GET /page/", http.StripPrefix("/page/", files))
	mux.HandleFunc("GET /stream", func(w http.ResponseWriter, r *http.Request) { p.meet(ctx, w, r) })
	mux.Handle("GET /data/", p.withToken(data{p.order.Load}.handler()))
	return p.guard(mux)
}
