//go:build outside

package panel

import (
	"context"
	"fmt"
	"strings"
	"testing"
	"time"

	"github.com/chromedp/cdproto/cdp"
	"github.com/chromedp/cdproto/input"
	"github.com/chromedp/chromedp"
	"github.com/chromedp/chromedp/kb"
)

// browser is a tab of Debian's Chromium, without a screen.
type browser struct {
	testing.TB
	ctx context.Context
}

// browse opens the page of a panel, once for each test.
func browse(t testing.TB, p *Panel) *browser {
	t.Helper()
	options := []chromedp.ExecAllocatorOption{chromedp.NoFirstRun, chromedp.NoDefaultBrowserCheck, chromedp.Headless, chromedp.NoSandbox, chromedp.UserDataDir(t.TempDir()),
		chromedp.ExecPath("/usr/bin/chromium")}
	for _, flag := range []string{"disable-gpu", "disable-quic", "disable-background-networking", "disable-component-update", "disable-sync", "hide-scrollbars"} {
		options = append(options, chromedp.Flag(flag, true))
	}
	begun, cancel := chromedp.NewExecAllocator(context.Background(), options...)
	t.Cleanup(cancel)
	ctx, end := chromedp.NewContext(begun)
	t.Cleanup(end)
	b := &browser{t, ctx}
	b.run(chromedp.EmulateViewport(1280, 900), chromedp.Navigate(p.URL()))
	b.until(`document.querySelector('#next button') !== null`, 20*time.Second)
	return b
}

func (b *browser) run(actions ...chromedp.Action[chromedp.Void]) {
	b.Helper()
	if err := chromedp.Do(b.ctx, actions...); err != nil {
		b.Fatalf("the browser: %v", err)
	}
}

// ask evaluates an expression.
func (b *browser) ask(expression string) any {
	b.Helper()
	answer, err := chromedp.Run(b.ctx, chromedp.Evaluate[any]("(() => { const answer = "+expression+"; return answer instanceof Object ? null : answer ?? null })()"))
	if err != nil {
		b.Fatalf("the browser: %v", err)
	}
	return answer
}

// until waits until an expression is true.
func (b *browser) until(expression string, patience time.Duration) {
	b.Helper()
	for late := time.Now().Add(patience); ; time.Sleep(20 * time.Millisecond) {
		if b.ask("Boolean("+expression+")") == true {
			return
		}
		if time.Now().After(late) {
			b.Fatalf("not true after %v: %s\n%v\n%v", patience, expression, b.ask(`document.querySelector('#task-title').innerText + ' | ' + document.querySelector('#task-say').innerText + ' | ' + document.querySelector('#task-trouble').innerText`), b.ask(`document.querySelector('#question').innerText + ' | ' + document.querySelector('#next').innerText + ' | ' + document.querySelector('#stop-say').innerText`))
		}
	}
}

// press clicks the button below a place that says something.
func (b *browser) press(place, says string) {
	b.Helper()
	find := fmt.Sprintf(`[...document.querySelectorAll('%s button')].find(x => x.offsetParent && x.innerText.toLowerCase().includes('%s'))`, place, says)
	b.until(find, 20*time.Second)
	b.ask("(" + find + ".click(), true)")
}

// agree presses the button that goes along with a question, if one is open.
const agree = `(() => { const x = [...document.querySelectorAll('#question button')].find(x => x.offsetParent && /yes|done/i.test(x.innerText)); if (x) x.click(); return null })()`

// goAlong answers the questions until there is a result.
func (b *browser) goAlong(patience time.Duration) {
	b.Helper()
	for late := time.Now().Add(patience); ; time.Sleep(30 * time.Millisecond) {
		if b.ask(`!document.querySelector('#result').hidden && document.querySelector('#result').innerText.length > 20`) == true {
			return
		}
		b.ask(agree)
		if time.Now().After(late) {
			b.Fatalf("no result after %v: %v", patience, b.ask(`document.querySelector('#main').innerText.slice(0, 1500)`))
		}
	}
}

// A person at the page: the ready table, a run with a jig up to its sheet, the next unit, and a run
// by hand; the page has nothing from elsewhere and no error.
func TestThePageFromReadyToSheet(t *testing.T) {
	p := serve(t, func(o *Order) { o.Silent, o.Pace = false, 6 })
	b := browse(t, p)
	if at := b.ask("location.href"); strings.Contains(fmt.Sprint(at), p.token) {
		t.Errorf("the token stays in the address bar: %v", at)
	}
	b.ask(`(window.wrong = [], addEventListener('error', e => wrong.push(String(e.message))), addEventListener('securitypolicyviolation', e => wrong.push(e.violatedDirective + ' ' + e.blockedURI)), addEventListener('unhandledrejection', e => wrong.push(String(e.reason))), true)`)
	b.press("#next", "check")
	b.until(`document.querySelectorAll('#question button').length > 0`, 20*time.Second)
	if text := fmt.Sprint(b.ask(`document.querySelector('#question').innerText`)); !strings.Contains(text, "mains") {
		t.Errorf("the cautions are not shown: %s", text)
	}
	b.press("#question", "yes")
	b.press("#question", "done") // the blade is off
	b.until(`document.querySelectorAll('#ready-table tr').length > 4`, 40*time.Second)
	b.press("#next", "align")
	b.goAlong(90 * time.Second)
	result := fmt.Sprint(b.ask(`document.querySelector('#result').innerText`))
	if !strings.Contains(result, "PASS") && !strings.Contains(strings.ToLower(result), "aligned") {
		t.Errorf("result: %s", result)
	}
	b.ask(`(document.querySelector('#curve-table-box').open = true)`)
	b.until(`document.querySelectorAll('#curve-table tr').length > 10`, 5*time.Second)
	papers := fmt.Sprint(b.ask(`[...document.querySelectorAll('#result button, #papers button')].map(x => x.innerText).join(' | ')`))
	if !strings.Contains(strings.ToLower(papers), "sheet") {
		t.Errorf("no sheet is offered: %s", papers)
	}
	if wrong := fmt.Sprint(b.ask("wrong.join('; ')")); wrong != "" {
		t.Errorf("errors of the page: %s", wrong)
	}
	if foreign := fmt.Sprint(b.ask(`performance.getEntriesByType('resource').map(e => e.name).filter(n => !n.startsWith(location.origin) && !n.startsWith('blob:')).join(' ')`)); foreign != "" {
		t.Errorf("from elsewhere: %s", foreign)
	}
}

func TestThePageByHand(t *testing.T) {
	p := serve(t, func(o *Order) { o.Pace = 12 })
	b := browse(t, p)
	b.press("#other", "by hand")
	b.until(`document.querySelectorAll('#question button').length > 0`, 20*time.Second)
	b.press("#question", "yes")
	b.until(`!document.querySelector('#guide').hidden && document.querySelector('#guide-say').innerText.length > 5`, 30*time.Second)
	if size := b.ask(`parseFloat(getComputedStyle(document.querySelector('#guide-say')).fontSize)`).(float64); size < 40 {
		t.Errorf("the guide's words are %g pixels high: to be read from two metres", size)
	}
	b.goAlong(120 * time.Second)
}

// STOP by a key in a text field, while the motor turns; then without a connection the page says so.
func TestThePageStops(t *testing.T) {
	p := serve(t, func(o *Order) { o.Pace = 2 })
	b := browse(t, p)
	watcher := join(t, p)
	watcher.goesAlongWith(t, b)
	b.press("#other", "align")
	watcher.wait("motor", 60*time.Second, moving)
	b.ask(`(document.querySelector('#job details')?.setAttribute('open', ''), document.querySelector('#job input').focus(), true)`)
	b.run(chromedp.KeyEvent(kb.Escape))
	watcher.wait("stopped", 5*time.Second, func(m map[string]any) bool { return m["state"] == "standing" })
	b.until(`document.querySelector('#stop').dataset.state === 'standing'`, 3*time.Second)
	size := b.ask(`(() => { const s = document.querySelector('#stop').getBoundingClientRect(); return s.top >= 0 && s.bottom <= innerHeight && [...document.querySelectorAll('button')].every(x => x.id === 'stop' || x.offsetWidth * x.offsetHeight <= s.width * s.height) })()`)
	if size != true {
		t.Error("STOP is not in view, or not the largest button")
	}
}

// goesAlongWith answers the questions in the browser's page, which controls.
func (f *fakePage) goesAlongWith(t *testing.T, b *browser) {
	ctx, cancel := context.WithCancel(b.ctx)
	t.Cleanup(cancel)
	go func() {
		for ctx.Err() == nil {
			_, _ = chromedp.Run(ctx, chromedp.Evaluate[any](agree))
			time.Sleep(50 * time.Millisecond)
		}
	}()
}

// With the keyboard alone: Tab reaches the buttons, Enter presses them, and the space bar held down
// turns, let go stops, and never presses a button.
func TestThePageByKeyboard(t *testing.T) {
	p := serve(t, nil)
	b := browse(t, p)
	watcher := join(t, p)
	tabTo := func(says string) {
		t.Helper()
		for range 80 {
			b.run(chromedp.KeyEvent(kb.Tab))
			if at := strings.ToLower(fmt.Sprint(b.ask(`document.activeElement.innerText || ''`))); strings.Contains(at, says) && len(at) < 60 {
				return
			}
		}
		t.Fatalf("Tab does not reach %q", says)
	}
	tabTo("turn")
	b.run(chromedp.KeyEvent(kb.Enter))
	b.until(`document.querySelectorAll('#question button').length > 0`, 10*time.Second)
	tabTo("yes")
	b.run(chromedp.KeyEvent(kb.Enter))
	watcher.wait("state", 10*time.Second, func(m map[string]any) bool { return m["stage"] == "holds" })
	b.until(`document.querySelector('#hold') !== null`, 5*time.Second)
	space := func(kind input.DispatchKeyEventType) chromedp.Action[chromedp.Void] {
		return chromedp.Func(func(ctx context.Context, target *chromedp.Target) error {
			_, err := cdp.Call(ctx, target, input.DispatchKeyEvent, input.DispatchKeyEventParams{Type: kind, Key: " ", Code: "Space", WindowsVirtualKeyCode: 32})
			return err
		})
	}
	b.run(space(input.DispatchKeyEventTypeRawKeyDown))
	watcher.wait("motor", 15*time.Second, moving)
	b.run(space(input.DispatchKeyEventTypeKeyUp))
	watcher.wait("motor", 2*time.Second, standing)
	b.run(space(input.DispatchKeyEventTypeRawKeyDown))
	watcher.wait("motor", 15*time.Second, moving)
	b.ask(`window.dispatchEvent(new Event('blur'))`)
	watcher.wait("motor", 2*time.Second, standing)
	b.run(space(input.DispatchKeyEventTypeKeyUp), chromedp.KeyEvent(kb.Escape))
	watcher.wait("state", 5*time.Second, idle)
}

// At 360 pixels and at 4K nothing is cut off sideways; without the panel the page says that it is
// not connected.
func TestThePageAtEverySize(t *testing.T) {
	p := serve(t, nil)
	b := browse(t, p)
	for _, wide := range []int64{360, 768, 1280, 3840} {
		b.run(chromedp.EmulateViewport(wide, 900))
		b.until(`innerWidth === `+fmt.Sprint(wide), 3*time.Second)
		if over := b.ask(`document.documentElement.scrollWidth - innerWidth`).(float64); over > 0 {
			t.Errorf("at %d pixels the page is %g wider", wide, over)
		}
	}
	before := b.ask(`document.querySelector('#connection').innerText`)
	end, _ := stops.Load(p)
	end.(context.CancelFunc)() // the panel ends
	b.until(fmt.Sprintf(`document.querySelector('#connection').innerText !== %q`, before), 8*time.Second)
}
