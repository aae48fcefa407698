package help

import "testing"

func TestReflow(t *testing.T) {
	t.Parallel()
	const text = "A paragraph that is\nlonger than one line of forty columns.\n\n" +
		" 1  one\tthe first of some rows, with a text of two lines\n22\tthe second\na-name-that-is-too-long\tthe third\n" +
		"And a paragraph.\n\n\tindented   as it is\n"
	const want = `A paragraph that is longer than one line
of forty columns.

   1  one       the first of some rows,
                with a text of two lines
  22            the second
  a-name-that-is-too-long
                the third
And a paragraph.

	indented   as it is`
	if got := Reflow(text, 40); got != want {
		t.Errorf("got\n%s\nwant\n%s", got, want)
	}
}

// A shell reads a command line that goes on in the next line as one.
func TestLongExamplesGoOnBeforeAFlag(t *testing.T) {
	t.Parallel()
	const want = "  headtrue align --port /dev/ttyACM0 \\\n      --start-command 'relay on' --json\n  headtrue demo"
	if got := examples("  headtrue align --port /dev/ttyACM0 --start-command 'relay on' --json\n  headtrue demo", 42); got != want {
		t.Errorf("got\n%s\nwant\n%s", got, want)
	}
}
