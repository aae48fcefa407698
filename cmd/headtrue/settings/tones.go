package settings

import (
	"fmt"
	"regexp"
	"strconv"
	"strings"

	"headtrue/cmd/headtrue/nearest"
	"headtrue/configs"
)

// FurtherTones are the frequencies of FurtherTonesHz.
func (s Settings) FurtherTones() []float64 {
	tones, _ := furtherTones(s.FurtherTonesHz) // checked when it was read
	return tones
}

// mostFurtherTones is the maximum number of tones beside the main one.
const mostFurtherTones = 4

// furtherTones reads a list of tones separated by commas.
func furtherTones(text string) ([]float64, error) {
	if strings.TrimSpace(text) == "" {
		return nil, nil
	}
	var tones []float64
	for _, one := range strings.Split(text, ",") {
		one = strings.TrimSpace(one)
		hz, err := quantity("hz", toneNamed(one))
		if err != nil {
			return nil, fmt.Errorf("%w%s", err, nearest.Hint(one, ToneNames()))
		}
		if !(hz >= 20 && hz <= 20000) {
			return nil, fmt.Errorf("%q: must lie between 20 and 20000 Hz", one)
		}
		tones = append(tones, hz)
	}
	if len(tones) > mostFurtherTones {
		return nil, fmt.Errorf("%q: at most %d further tones can be listened to", text, mostFurtherTones)
	}
	return tones, nil
}

func textsOf(numbers []float64) (texts []string) {
	for _, n := range numbers {
		texts = append(texts, strconv.FormatFloat(n, 'g', -1, 64))
	}
	return texts
}

// thousands matches a number of kilohertz whose k may stand for the point: 10k, 6k3, 12.5k.
var thousands = regexp.MustCompile(`^(\d+)(\.\d+)?[kK](\d*)$`)

// toneNamed is the frequency of a tone that is given by its name or in thousands; it returns
// other text unchanged.
func toneNamed(text string) string {
	text = strings.TrimSpace(text)
	for _, tone := range tones() {
		if strings.EqualFold(tone[0], text) {
			return tone[1]
		}
	}
	m := thousands.FindStringSubmatch(text)
	if m == nil || m[2] != "" && m[3] != "" {
		return text
	}
	return m[1] + "." + strings.TrimPrefix(m[2], ".") + m[3] + "e3 Hz"
}

// tones are the names of configs/tones.yaml, each with its frequency, in the order of the file.
func tones() (all [][2]string) {
	node, err := parseYAML(configs.Tones())
	if err != nil {
		return nil
	}
	for i := 0; i+1 < len(node.Content); i += 2 {
		all = append(all, [2]string{node.Content[i].Value, node.Content[i+1].Value})
	}
	return all
}

// ToneNames lists the names of tones.
func ToneNames() (names []string) {
	for _, tone := range tones() {
		names = append(names, tone[0])
	}
	return names
}
