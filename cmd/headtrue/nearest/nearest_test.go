package nearest

import "testing"

func TestName(t *testing.T) {
	t.Parallel()
	for _, c := range []struct {
		wrong, want string
		right       []string
	}{
		{"algin", "align", []string{"check", "align", "sweep"}},
		{"log", "logbook", []string{"limits", "logbook"}},
		{"ALIGN", "align", []string{"align"}},
		{"xyz", "", []string{"align", "m2"}},
		{"x", "", []string{"m2", "abc"}},
		{"20240506T070808Z", "20240506T070809Z", []string{"20240401T000000Z", "20240506T070809Z"}},
		{"m25", "m2.5", []string{"m2", "m2.5", "m2.6", "m3"}},
		{"", "", []string{"a"}},
	} {
		if got := Name(c.wrong, c.right); got != c.want {
			t.Errorf("nearest to %q is %q, want %q", c.wrong, got, c.want)
		}
	}
}

// The distance of the two words is that of V. Levenshtein's measure as commonly illustrated.
func TestDistance(t *testing.T) {
	t.Parallel()
	if d := Distance("kitten", "sitting"); d != 3 {
		t.Errorf("distance %d, want 3", d)
	}
}
