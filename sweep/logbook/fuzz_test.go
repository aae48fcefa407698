package logbook

import (
	"bytes"
	"encoding/json"
	"testing"

	"headtrue/sweep/record"
)

func entrySeeds() (texts [][]byte) {
	far := step(1)
	far.Step.ScrewDeg = 1e308
	for _, e := range []record.Entry{started(), step(1), far, end(record.Aligned), remark("µ \"so\" \\ 1.23456789"), {}} {
		text, err := json.Marshal(e)
		if err != nil {
			panic(err)
		}
		texts = append(texts, text)
	}
	return append(texts, []byte(`{"kind":"step","step":{"screw_deg":1e999}}`), []byte("{"), []byte(`{"tape_seconds":-0.0000001234567891}`))
}

func packSeeds(t testing.TB) (packs [][]byte) {
	to, err := packer()
	if err != nil {
		t.Fatal(err)
	}
	all := entrySeeds()
	whole := to.EncodeAll(bytes.Join(all[:4], []byte{'\n'}), nil)
	return [][]byte{whole, whole[:len(whole)/2], to.EncodeAll(bytes.Repeat([]byte{'\n'}, 1<<20), nil), {}}
}

func TestSeedsAreNotEmpty(t *testing.T) {
	valid, invalid := 0, 0
	for _, text := range entrySeeds() {
		var e record.Entry
		if json.Unmarshal(text, &e) == nil && e.Valid() == nil {
			valid++
		} else {
			invalid++
		}
	}
	packs := packSeeds(t)
	if all, err := unpacked(packs[0], 4); valid < 4 || invalid < 4 || len(all) != 4 || err != nil {
		t.Errorf("%d valid and %d invalid entries; a pack of %d entries, %v", valid, invalid, len(all), err)
	}
	for _, body := range packs[1:] {
		if _, err := unpacked(body, 4); err == nil {
			t.Error("a pack that is none was read")
		}
	}
}

// FuzzEntry: an entry that can be kept is read back unchanged.
func FuzzEntry(f *testing.F) {
	for _, text := range entrySeeds() {
		f.Add(text)
	}
	f.Fuzz(func(t *testing.T, text []byte) {
		var e, back record.Entry
		if json.Unmarshal(text, &e) != nil || e.Valid() != nil {
			return
		}
		kept, err := encode(e)
		if err != nil {
			t.Fatalf("it is valid, and cannot be kept: %v", err)
		}
		if err := json.Unmarshal(kept, &back); err != nil || back.Valid() != nil {
			t.Fatalf("%s reads back: %v, %v", kept, err, back.Valid())
		}
		if again, err := encode(back); err != nil || !bytes.Equal(again, kept) {
			t.Fatalf("kept\n%s\nthen\n%s\n%v", kept, again, err)
		}
	})
}

// FuzzPack: a pack has the expected entries, or is damaged.
func FuzzPack(f *testing.F) {
	for _, body := range packSeeds(f) {
		f.Add(body, 4)
	}
	f.Fuzz(func(t *testing.T, body []byte, entries int) {
		if all, err := unpacked(body, entries); err == nil && len(all) != entries {
			t.Fatalf("%d entries, not %d", len(all), entries)
		}
	})
}
