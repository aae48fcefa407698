//go:build unix

package main

import (
	"bufio"
	"encoding/json"
	"fmt"
	"os"
	"strconv"
	"strings"
	"syscall"
	"testing"
	"time"
)

// BenchmarkListen listens to the virtual bench in real time for ten minutes, or for
// LISTEN_SECONDS, and fails if updates are late or if the memory grows after the first minute. It
// prints the figures, and the share of a core, most of which the virtual deck takes.
func BenchmarkListen(b *testing.B) {
	seconds := 600
	if s, err := strconv.Atoi(os.Getenv("LISTEN_SECONDS")); err == nil {
		seconds = s
	}
	for range b.N {
		p := newProcess("listen", "--virtual=tone", "--tone", "10k", "--seconds", fmt.Sprint(seconds), "--pace", "--json")
		p.cmd.Stdout = nil
		out, err := p.cmd.StdoutPipe()
		if err != nil {
			b.Fatal(err)
		}
		begun := time.Now()
		if err := p.cmd.Start(); err != nil {
			b.Fatal(err)
		}
		lines := bufio.NewScanner(out)
		lines.Buffer(nil, 1<<20)
		updates, latest, early, late := 0, 0.0, 0, 0
		first := time.Time{}
		for lines.Scan() {
			var now struct{ Seconds float64 }
			if err := json.Unmarshal(lines.Bytes(), &now); err != nil {
				b.Fatal(err)
			}
			if updates++; updates == 1 {
				first = time.Now().Add(-time.Duration(now.Seconds * float64(time.Second)))
			}
			latest = max(latest, time.Since(first).Seconds()-now.Seconds)
			if updates%250 == 0 {
				if late = residentKB(p.cmd.Process.Pid); now.Seconds > 60 && early == 0 {
					early = late
				}
			}
		}
		if err := p.cmd.Wait(); err != nil {
			b.Log(p.said.String())
			b.Fatal(err)
		}
		used := p.cmd.ProcessState.SysUsage().(*syscall.Rusage)
		share := 100 * (time.Duration(used.Utime.Nano()) + time.Duration(used.Stime.Nano())).Seconds() / time.Since(begun).Seconds()
		b.Logf("%d updates in %d s, at most %.2f s late; %d kB after a minute, %d kB at the end; %.1f %% of a core, the virtual deck included",
			updates, seconds, latest, early, late, share)
		b.ReportMetric(share, "%_of_a_core")
		if updates != seconds*25 || latest > 1 {
			b.Errorf("%d updates in %d s, %.2f s late", updates, seconds, latest)
		}
		if early > 0 && late > early+8<<10 {
			b.Errorf("%d kB after a minute, %d kB at the end", early, late)
		}
	}
}

// residentKB is the resident memory of a process; 0 if the system does not show it.
func residentKB(pid int) (kB int) {
	status, _ := os.ReadFile(fmt.Sprintf("/proc/%d/status", pid))
	for line := range strings.SplitSeq(string(status), "\n") {
		if rest, ok := strings.CutPrefix(line, "VmRSS:"); ok {
			_, _ = fmt.Sscan(rest, &kB)
		}
	}
	return kB
}
