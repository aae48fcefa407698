package hand

import (
	"regexp"
	"strconv"
	"strings"

	"headtrue/sweep/stream"
)

// phrases are how a listener recognises an act: the first that a sentence matches. A sentence
// begins with the act, so that no other text of a run is taken for a request.
var phrases = []struct {
	act stream.Act
	has *regexp.Regexp
}{
	{stream.Optimum, regexp.MustCompile(`^optimum\b.*\bhands off\b`)},
	{stream.HandsOff, regexp.MustCompile(`^hands off\b`)},
	{stream.Edge, regexp.MustCompile(`^stop\b.*\bdull edge\b.*\bturn back\b`)},
	{stream.Mark, regexp.MustCompile(`^stop\b.*\bdull edge\b.*\bmark\b.*\bslot\b`)},
	{stream.Halfway, regexp.MustCompile(`^turn\b.*\bhalfway between\b.*\bmarks\b`)},
	{stream.WrongWay, regexp.MustCompile(`^that is the wrong direction\b`)},
	{stream.Trouble, regexp.MustCompile(`^stop\b.*\bsound cannot be used\b`)},
	{stream.HoldOn, regexp.MustCompile(`^stop turning\b`)},
	{stream.Slower, regexp.MustCompile(`^slower\b`)},
	{stream.TurnOn, regexp.MustCompile(`^turn\b.*\b(degrees?\b|until i say stop\b)`)},
}

var (
	direction = regexp.MustCompile(`\b(counter-)?clockwise\b`)
	degrees   = regexp.MustCompile(`\b(\d+) degrees?\b`)
)

// Read understands a sentence of the guide as a person does, by what it says; false if it is
// none.
func Read(words string) (stream.Guidance, bool) {
	said := strings.ToLower(strings.Join(strings.Fields(words), " "))
	for _, p := range phrases {
		if !p.has.MatchString(said) {
			continue
		}
		g := stream.Guidance{Act: p.act, New: true}
		if named(p.act) {
			g.Way = stream.Way(direction.FindString(said))
		}
		if size := degrees.FindStringSubmatch(said); size != nil && p.act == stream.TurnOn {
			deg, _ := strconv.Atoi(size[1]) // only digits
			g.Turns = float64(deg) / 360
		}
		return g, g.Way != "" || !named(p.act)
	}
	return stream.Guidance{}, false
}
