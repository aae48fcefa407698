//go:build outside

package simulator_test

import (
	"math"
	"testing"
	"time"

	protocol "headtrue/firmware-protocol"
	"headtrue/firmware-protocol/simulator"
)

func (s *session) settings() protocol.StoredSettings {
	s.t.Helper()
	_, body := s.Reply(s.Send(protocol.TypeSettings, nil))
	r, got, err := protocol.ParseSettingsReply(body)
	if err != nil || r.Code != protocol.OK {
		s.t.Fatalf("settings: %s, %v", r.Code, err)
	}
	return got
}

// configure changes settings, and leaves the jig declared, open and energised.
func (s *session) configure(change func(*protocol.Settings)) {
	s.t.Helper()
	set := s.settings().Settings
	set.Identity = 1
	change(&set)
	s.Must(protocol.TypeEnergise, protocol.Energise{}.Append(nil))
	s.Must(protocol.TypeConfigure, set.Append(nil))
	s.pass(300 * time.Millisecond)
	_, s.g = s.Greet()
	s.Must(protocol.TypeDeclare, protocol.Declare{}.Append(nil))
	s.Must(protocol.TypeSetWindow, protocol.Window{Lo: -64000, Hi: 64000}.Append(nil))
	s.Must(protocol.TypeEnergise, protocol.Energise{On: true}.Append(nil))
}

// A write of settings that is cut at any time leaves the old ones or the new ones, whole. When
// the microsteps are new, the position is never kept with the wrong ones.
func TestSettingsThatAreCut(t *testing.T) {
	eachKind(t, func(t *testing.T, s *session) {
		s.configure(func(set *protocol.Settings) { set.Identity = 0x11111111 })
		var olds, news int
		for i := range 46 {
			old := s.settings().Settings
			set := old
			set.Identity ^= 0x55AA33CC
			set.Microsteps ^= 16 ^ 4
			set.CurrentMilliamps ^= 0x0FF0
			s.Must(protocol.TypeDeclare, protocol.Declare{Position: 500}.Append(nil))
			s.Must(protocol.TypeSetWindow, protocol.Window{Lo: 400, Hi: 600}.Append(nil))
			s.Must(protocol.TypeEnergise, protocol.Energise{}.Append(nil))
			s.pass(300 * time.Millisecond)
			s.Must(protocol.TypeConfigure, set.Append(nil))
			must(t, s.board, "run %d", 1+i*54_400) // one more byte each time
			cause := []string{"external", "power"}[i%2]
			must(t, s.board, "restart %s", cause)
			must(t, s.board, "run %d", settle)
			st, g := s.Greet()
			now := s.settings()
			switch {
			case !now.Stored || now.Settings != old && now.Settings != set:
				t.Fatalf("cut after byte %d: %s; want %s or %s", i, now, old, set)
			case now.Settings == old:
				olds++
			default:
				news++
				if st.Memory == protocol.Kept || !g.Window.Closed() {
					t.Errorf("cut after byte %d: new microsteps, and %s, window %s", i, st, g.Window)
				}
			}
		}
		if olds < 5 || news < 5 {
			t.Errorf("%d old and %d new settings: the cuts came at the wrong times", olds, news)
		}
	})
}

// A reset soon after a declaration: the number of its count may be lost, but it is never given
// again, whatever cause the reset has.
func TestEpochsNeverRepeat(t *testing.T) {
	eachKind(t, func(t *testing.T, s *session) {
		s.pass(300 * time.Millisecond)
		given := map[uint16]int{}
		lost, count := 0, s.Status().Epoch
		for i := range 120 {
			st := s.Must(protocol.TypeDeclare, protocol.Declare{Position: int32(i)}.Append(nil))
			if before, twice := given[st.Epoch]; twice {
				t.Fatalf("declaration %d got the number %d, as declaration %d did", i, st.Epoch, before)
			}
			given[st.Epoch] = i
			if i%5 == 0 { // one more before anything is written
				st = s.Must(protocol.TypeDeclare, protocol.Declare{Position: 7}.Append(nil))
				given[st.Epoch] = i
			}
			must(t, s.board, "run %d", 16_000*(1+i*7%90)) // 1 to 90 ms
			must(t, s.board, "restart %s", []string{"external", "untold", "clobber", "power"}[i%4])
			must(t, s.board, "run %d", settle)
			after, _ := s.Greet()
			before, known := given[after.Epoch]
			switch newCount := i%4 > 1; {
			case newCount && known:
				t.Fatalf("start %d got the number %d, as declaration %d did", i, after.Epoch, before)
			case newCount:
				given[after.Epoch] = i
			case after.Epoch == count && count != st.Epoch:
				lost++
			case after.Epoch != st.Epoch:
				t.Fatalf("start %d: number %d; want %d or %d", i, after.Epoch, count, st.Epoch)
			}
			count = after.Epoch
		}
		if lost < 10 {
			t.Errorf("only %d declarations were lost: the resets came too late", lost)
		}
	})
}

// With other microsteps the pins show the greeted figures: the cruise is not faster than the
// greatest speed, and the ramp takes the time of the greeted acceleration.
func TestPulsesWithOtherMicrosteps(t *testing.T) {
	for _, microsteps := range []uint16{1, 2, 4, 8, 32, 64} {
		eachKind(t, func(t *testing.T, s *session) {
			own := s.g
			s.configure(func(set *protocol.Settings) { set.Microsteps = microsteps })
			share := float64(microsteps) / 16
			if want := math.Floor(float64(own.Accel) * share); float64(s.g.Accel) != want {
				t.Errorf("%d microsteps: acceleration %d; want %.0f", microsteps, s.g.Accel, want)
			}
			full := float64(s.g.MaxSpeed) / float64(microsteps) // full steps per second
			if most := float64(own.MaxSpeed) / 16; full > most || microsteps < 16 && full < 0.99*most {
				t.Errorf("%d microsteps: %.1f full steps per second; want %.1f", microsteps, full, most)
			}
			way := int32(s.g.MaxSpeed) // a second at the greatest speed
			zero := must(t, s.board, "run 0")
			s.move(way, 0)
			st := s.arrive()
			end := must(t, s.board, "run 0")
			first := s.FirstStep().FirstStepMicros
			took := microseconds(0, end.LastStep)/1e6 - (float64(first)/1e6 + microseconds(0, end.Cycle)/1e6 - float64(s.Status().Micros)/1e6)
			speed, accel := float64(s.g.MaxSpeed), float64(s.g.Accel)
			ideal := float64(way)/speed + speed/accel - math.Sqrt(2/accel)
			t.Logf("%d microsteps: %.4f s, by the greeting %.4f", microsteps, took, ideal)
			if st.Position != way || end.Steps-zero.Steps != uint64(way) || took < 0.995*ideal || took > 1.01*ideal+0.002 {
				t.Errorf("%d microsteps: %d steps in %.4f s, %s; want %d in %.4f", microsteps, end.Steps-zero.Steps, took, st, way, ideal)
			}
		})
	}
}

// Reversed, the field turns the other way for the same count, and the encoder is read the
// other way round if it is fitted so; one that is fitted and silent is reported.
func TestReversedAndEncoder(t *testing.T) {
	eachKind(t, func(t *testing.T, s *session) {
		must(t, s.board, "encoder 3 0")
		s.configure(func(set *protocol.Settings) {
			set.Reversed = true
			set.Fitted |= protocol.FittedEncoder | protocol.FittedEncoderBack
		})
		before := must(t, s.board, "run 0").Field
		s.move(800, 0) // a quarter of a turn
		s.arrive()
		s.pass(100 * time.Millisecond)
		if made := must(t, s.board, "run 0").Field - before; made != -800 {
			t.Errorf("the field went by %d; want -800", made)
		}
		_, body := s.Reply(s.Send(protocol.TypeInspect, nil))
		_, i, err := protocol.ParseInspection(body)
		if err != nil || i.Encoder != protocol.EncoderOK || i.Angle != protocol.AnglesPerTurn/4 {
			t.Errorf("%s, %v; want a quarter of a turn", i, err)
		}
		s.configure(func(set *protocol.Settings) { set.Fitted |= protocol.FittedSupply })
		s.move(100, 0)
		s.arrive()
		must(t, s.board, "supply 0") // the encoder bridges it
		s.pass(20 * time.Millisecond)
		s.want(s.Status(), protocol.Doubtful, protocol.ReasonFault, protocol.CauseExternal)
		if _, g := s.Greet(); g.Window.Closed() {
			t.Error("the window is closed though the encoder holds the position")
		}
	})
	eachKind(t, func(t *testing.T, s *session) {
		s.configure(func(set *protocol.Settings) { set.Fitted |= protocol.FittedEncoder })
		_, body := s.Reply(s.Send(protocol.TypeInspect, nil))
		if _, i, err := protocol.ParseInspection(body); err != nil || i.Encoder != protocol.EncoderSilent {
			t.Errorf("%s, %v; want an encoder that does not answer", i, err)
		}
	})
}

// From the loss of the supply to the last pulse and to ENABLE, at full speed.
func TestSupplyThatIsCut(t *testing.T) {
	eachKind(t, func(t *testing.T, s *session) {
		s.configure(func(set *protocol.Settings) { set.Fitted |= protocol.FittedSupply })
		s.move(30000, 0)
		s.pass(300 * time.Millisecond)
		for i := range 40 { // at any time between two looks
			must(t, s.board, "supply 0")
			must(t, s.board, "run %d", simulator.CyclesPerSecond/4000)
			must(t, s.board, "supply 1") // a quarter of a millisecond is a disturbance
			s.pass(time.Duration(2000+130*i) * time.Microsecond)
			if st := s.Status(); !st.Moving() {
				t.Fatalf("after disturbance %d: %s", i, st)
			}
		}
		cut := must(t, s.board, "supply 0").Cycle
		s.pass(4 * time.Millisecond)
		now := must(t, s.board, "run 0")
		late := microseconds(cut, now.LastStep)
		t.Logf("last pulse %.0f us after the supply went", late)
		if now.Energised || late > 3000 {
			t.Errorf("energised %v, last pulse %.0f us after the supply went; want off, within 3000", now.Energised, late)
		}
	})
}

// A board whose memory an image of an earlier layout has written: the position is unknown, as
// after a loss of power, but neither the starts nor the numbers of counts begin anew.
func TestMemoryOfTheLayoutBefore(t *testing.T) {
	const slot, bytes = 21, 1008 // 48 slots: 18 bytes, checksum, mark
	entry := func(number uint8, boot, epoch uint16) []byte {
		b := []byte{number, byte(protocol.Kept), byte(boot), byte(boot >> 8), byte(epoch), byte(epoch >> 8)}
		b = protocol.Window{Lo: -5, Hi: 5}.Append(append(b, 77, 0, 0, 0))
		crc := protocol.CRC(b)
		return append(b, byte(crc), byte(crc>>8), 0xFF)
	}
	eachKind(t, func(t *testing.T, s *session) {
		s.pass(300 * time.Millisecond)
		memory := make([]byte, bytes)
		for i := range memory {
			memory[i] = 0xFF
		}
		copy(memory[0:], entry(255, 299, 39))
		copy(memory[47*slot:], entry(0, 300, 40)) // the newest, in the last slot
		for at, b := range memory {
			must(t, s.board, "spoil %d %d", at, b)
		}
		must(t, s.board, "restart external")
		must(t, s.board, "run %d", settle)
		st, g := s.Greet()
		s.want(st, protocol.Unknown, protocol.ReasonNone, protocol.CauseExternal)
		if st.Boot != 301 || st.Epoch <= 40 || st.Epoch > 60 || st.Position != 0 || !g.Window.Closed() {
			t.Errorf("%s, window %s; want boot 301, an epoch soon after 40, position 0, a closed window", st, g.Window)
		}
		if set := s.settings(); set.Identity != 0 || set.Microsteps != 16 {
			t.Errorf("settings %s of a board that was given none", set)
		}
	})
}
