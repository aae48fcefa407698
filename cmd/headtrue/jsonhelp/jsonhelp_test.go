package jsonhelp

import (
	"reflect"
	"testing"
)

type reading struct {
	Level float64 `json:"level_db" help:"level"`
	SD    float64 `json:"sd_db"`
}

type plate struct {
	Serial string `json:"serial" help:"of the plate"`
}

type embedded struct {
	Name string `json:"name" help:"a name that is explained in more words than one line of eighty columns can hold"`
}

// outer has a field of the same Go name as one of sample.
type outer struct {
	Left []float64 `json:"outer_left" help:"another one"`
}

type sample struct {
	embedded
	Left   float64  `json:"left"`
	Right  float64  `json:"right,omitempty" help:"by channel"`
	Before *reading `json:"before,omitempty" help:"a reading before"`
	After  reading  `json:"after" help:"a reading after"`
	Plates []plate  `json:"plates"`
	Count  []int    `json:"a_name_that_reaches_into_the_texts" help:"counts"`
	Last   bool     `json:"last"`
	*outer
	hidden int
}

func TestFields(t *testing.T) {
	t.Parallel()
	const want = `  name                  a name that is explained in more words than one line of
                        eighty columns can hold
  left, right           by channel
  before                a reading before
  after                 a reading after
  plates                list
    serial              of the plate
  a_name_that_reaches_into_the_texts
                        list: counts
  last, outer_left      another one
Fields of after, before:
  level_db              level
  sd_db`
	if got := Fields(reflect.TypeOf(sample{hidden: 1}), 80); got != want {
		t.Errorf("got\n%s\nwant\n%s", got, want)
	}
}
