//go:build outside

package simulator_test

import (
	"os"
	"path/filepath"
	"regexp"
	"testing"
	"time"

	protocol "headtrue/firmware-protocol"
	"headtrue/firmware-protocol/simulator"
	"headtrue/jig/jigtest"
)

// The values of the guide for a geared motor make an image that greets with them, and that
// makes a turn of its screw.
func TestTheGuideMakesAnImageForAGearedMotor(t *testing.T) {
	root := t.TempDir()
	for _, folder := range []string{"firmware", "simulator/process"} {
		if err := os.CopyFS(filepath.Join(root, folder), os.DirFS("../"+folder)); err != nil {
			t.Fatal(err)
		}
	}
	guide, err := os.ReadFile("../BUILD-A-JIG.md")
	if err != nil {
		t.Fatal(err)
	}
	file := filepath.Join(root, "firmware/core/config.h")
	config, err := os.ReadFile(file)
	if err != nil {
		t.Fatal(err)
	}
	changed := 0
	block := regexp.MustCompile("(?s)```c\n(.*?)```").FindSubmatch(guide)
	for _, value := range regexp.MustCompile(`(?m)^(#define \w+) (\S+)$`).FindAllSubmatch(block[1], -1) {
		config = regexp.MustCompile(`(?m)^`+string(value[1])+` \S+`).ReplaceAllFunc(config, func([]byte) []byte {
			changed++
			return append(append(value[1], ' '), value[2]...)
		})
	}
	if err := os.WriteFile(file, config, 0o600); err != nil || changed != 5 {
		t.Fatalf("%d values changed, %v", changed, err)
	}
	programs, err := simulator.Build(root, filepath.Join(root, "out"), "")
	if err != nil {
		t.Fatal(err)
	}
	board, err := simulator.Start(programs.AVR, programs.Image)
	if err != nil {
		t.Fatal(err)
	}
	line, err := board.Open(false)
	if err != nil {
		t.Fatal(err)
	}
	client := jigtest.NewClient(t, line)
	_, g := client.Greet()
	if g.MicrostepsPerMotorTurn != 64 || g.MaxSpeed != 680 || g.Accel != 6800 || g.StartStop != 300 {
		t.Errorf("the image greets with %+v", g)
	}
	const turn = 4076
	client.Must(protocol.TypeDeclare, protocol.Declare{}.Append(nil))
	client.Must(protocol.TypeSetWindow, protocol.Window{Lo: 0, Hi: turn}.Append(nil))
	client.Must(protocol.TypeEnergise, protocol.Energise{On: true}.Append(nil))
	client.Must(protocol.TypeMove, protocol.Move{Target: turn, Speed: protocol.FullSpeed}.Append(nil))
	for range 35 { // 4076 half steps at 680/s and the ramps take 6.2 s
		if err := board.Pass(200 * time.Millisecond); err != nil {
			t.Fatal(err)
		}
		client.Must(protocol.TypeStatus, nil)
	}
	if s := board.State(); s.Steps != turn {
		t.Errorf("%d steps of %d", s.Steps, turn)
	}
	if err := line.Close(); err != nil {
		t.Error(err)
	}
	if err := board.Close(); err != nil {
		t.Error(err)
	}
}
