//go:build outside && linux

package main

import (
	"testing"

	"headtrue/sweep/logbook/postgrestest"
)

// TestLogbookOnAServer runs the scripts of testdata/server with the logbook in
// PostgreSQL.
func TestLogbookOnAServer(t *testing.T) {
	runScripts(t, "testdata/server", map[string]string{"HEADTRUE_LOGBOOK": postgrestest.Start(t).Database(t)})
}
