package sweep

import "headtrue/sweep/record"

// EndOf turns what broke a piece of work off into its outcome, with a sentence
// and what to do: for callers of Ready, which answers with a bare error.
func EndOf(err error) record.End { return endOf(err) }
