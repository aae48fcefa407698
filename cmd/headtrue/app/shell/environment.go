package shell

import (
	"os"
	"slices"
	"strings"
)

// secretVariables are the variables in which libpq and its like look for a password, or for a
// file that holds one (PostgreSQL's manual, Environment Variables).
var secretVariables = []string{"PGPASSWORD", "PGPASSFILE", "PGSSLPASSWORD", "PGSERVICE", "PGSERVICEFILE"}

// Environment is the environment of the programs that headtrue starts: its own, without the
// passwords of the logbook's server.
func Environment() []string {
	return slices.DeleteFunc(os.Environ(), func(e string) bool {
		name, _, _ := strings.Cut(e, "=")
		return slices.Contains(secretVariables, strings.ToUpper(name))
	})
}
