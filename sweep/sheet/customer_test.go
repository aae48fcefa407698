package sheet

import (
	"bytes"
	"image"
	"image/png"
	"strings"
	"testing"

	"headtrue/sweep/record"
)

// owned is a run on a unit that has an owner, with limits.
func owned(t testing.TB, kind string) []record.Entry {
	entries := recorded(t, kind)
	s := startOf(entries)
	s.Unit, s.Job, s.Operator = "D-104", "J-2041", "ny"
	s.Settings["about.maker"], s.Settings["about.model"] = "Aldervane", "K-20"
	s.Settings["about.serial"], s.Settings["about.customer"] = "004711", "A. Example"
	s.Settings["deck.pass_off_arcmin"], s.Settings["deck.pass_sd_arcmin"], s.Settings["deck.pass_backlash_deg"], s.Settings["deck.pass_moved_arcmin"] = "3", "1.5", "45", "3"
	return entries
}

func customer(t testing.TB, j Job) string {
	return wordsOf(t, Customer(j, Letterhead{Name: "Millbrook Tape Repairs", Address: []string{"4 Mill Lane", "Harbour Town"}}))
}

// The figures are those of TestThePageSaysWhatTheRecordHolds.
func TestTheCustomersPage(t *testing.T) {
	text := customer(t, Job{Entries: owned(t, "tone")})
	for _, want := range []string{
		"Millbrook Tape Repairs 4 Mill Lane Harbour Town Head alignment", "customer A. Example", "deck Aldervane K-20", "serial no. 004711",
		"unit D-104", "done by ny", "it was 19.7' off and is now 0.3' off, ±0.6' (95 %); 10 kHz is 9.7 dB louder. PASS",
		"tilt of the head +19.7′ ±1.4′ -0.3′ ±0.6′", "10 kHz -18.6 dB -8.9 dB", "balance, left to right -0.3 dB -0.5 dB",
		"tilt as left 0.3′ 3.0′ pass", "uncertainty of it ±0.6′ ±3.0′ pass", "backlash 16° 45° pass",
		"Speed +0.30 % ±0.01 %.", "Wow and flutter 0.20 % weighted peak (IEC 60386), from 15 s.",
		"were not adjusted", "not to the standard", "date signature",
	} {
		if !strings.Contains(text, want) {
			t.Errorf("missing %q in\n%s", want, text)
		}
	}
	for _, jargon := range []string{"epoch", "coherence", "microstep", "sigma", "gearing"} {
		if strings.Contains(text, jargon) {
			t.Errorf("the customer reads of %q", jargon)
		}
	}
}

// A programme has a curve by third octaves: the level of each, both channels together, against the
// whole sound, computed by hand from the record.
func TestTheResponseOfAProgramme(t *testing.T) {
	entries := owned(t, "programme")
	found := foundOf(sortOut(entries))
	got := response(found)
	// 4 kHz: -46.49681 and -44.60622 dBFS are -42.4393 together, the whole is -16.7946.
	if want := -25.6447; len(got) != 7 || got[0] < want-0.001 || got[0] > want+0.001 {
		t.Errorf("4 kHz: %v, want %g", got, want)
	}
	if text := customer(t, Job{Entries: entries}); !strings.Contains(text, "third octave, kHz") || !strings.Contains(text, "change") {
		t.Errorf("no curve in\n%s", text)
	}
}

func TestALimitThatIsPassedOver(t *testing.T) {
	entries := owned(t, "tone")
	startOf(entries).Settings["deck.pass_backlash_deg"] = "15"
	text := customer(t, Job{Entries: entries})
	for _, want := range []string{"The backlash is 16 degrees of screw, the limit 15. IN DOUBT", "backlash 16° 15° FAIL"} {
		if !strings.Contains(text, want) {
			t.Errorf("missing %q in\n%s", want, text)
		}
	}
}

// A unit is stamped as proved if its newest proof has passed.
func TestAProvedUnitIsStamped(t *testing.T) {
	proof := func(off float64) []record.Entry {
		return []record.Entry{{Kind: "start", At: "2026-12-01T08:00:00Z", Start: &record.Start{Run: "P"}},
			{Kind: "left", Left: &record.Left{Released: &record.Reading{}, OffArcmin: &off, OffSDArcmin: 0.2}},
			{Kind: "end", End: &record.End{Outcome: record.Measured}}}
	}
	entries := owned(t, "tone")
	good, moved := proof(0.1), proof(3.5)
	for _, c := range []struct {
		proofs [][]record.Entry
		stamp  string
		says   string
	}{
		{nil, "PASS", ""},
		{[][]record.Entry{moved, good}, "PASS, PROVED", "0.1′ off, ±0.4′; moved by 0.4′ since it was set"},
		{[][]record.Entry{good, moved}, "PASS", "moved by 3.8′"},
	} {
		page := Customer(Job{Entries: entries, Proofs: c.proofs}, Letterhead{})
		if text := wordsOf(t, page); string(page.Stamp) != c.stamp || !strings.Contains(text, c.says) {
			t.Errorf("%d proofs: %s, %s", len(c.proofs), page.Stamp, text)
		}
	}
}

// Both pages are one document, each on a sheet of its own; the letterhead has its logo.
func TestTwoPagesWithALogo(t *testing.T) {
	var logo bytes.Buffer
	if err := png.Encode(&logo, image.NewGray(image.Rect(0, 0, 300, 100))); err != nil {
		t.Fatal(err)
	}
	j := Job{Entries: owned(t, "tone")}
	customer := Customer(j, Letterhead{Name: "N", Logo: logo.Bytes()})
	pdf, err := PDF(customer, NewPage(j))
	if err != nil {
		t.Fatal(err)
	}
	if n := bytes.Count(pdf, []byte("/Type /Page\n")); n != 2 {
		t.Errorf("%d pages", n)
	}
	if !bytes.Contains(pdf, []byte("/Subtype /Image")) {
		t.Error("no logo")
	}
	page, err := HTML(customer, NewPage(j))
	if err != nil || bytes.Count(page, []byte("<article")) != 2 || !bytes.Contains(page, []byte(`src="data:image/png;base64,`)) {
		t.Errorf("HTML: %v", err)
	}
}

func TestTheLabel(t *testing.T) {
	pdf, err := Label(Job{Entries: owned(t, "tone")}, Letterhead{Name: "N"})
	if err != nil {
		t.Fatal(err)
	}
	// 62 x 29 mm in points
	if !bytes.Contains(pdf, []byte("/MediaBox [0 0 175.75 82.20]")) {
		t.Errorf("another size: %.300q", pdf)
	}
}
