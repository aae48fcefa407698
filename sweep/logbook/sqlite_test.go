package logbook

import (
	"context"
	"database/sql"
	"path/filepath"
	"strings"
	"testing"
)

func TestAnOldEngineIsRefused(t *testing.T) {
	for version, want := range map[[3]int]bool{{3, 51, 2}: true, {3, 50, 9}: true, {2, 99, 99}: true, {3, 51, 3}: false, {3, 52, 0}: false, {4, 0, 0}: false} {
		if got := older(version, oldestSQLite); got != want {
			t.Errorf("%v is too old: %v, want %v", version, got, want)
		}
	}
}

// A setting that is not in force is detected, whatever the reason.
func TestSettingsThatDoNotHoldAreRefused(t *testing.T) {
	for pragmas, ok := range map[string]bool{
		"_pragma=busy_timeout(8000)&_pragma=journal_mode(wal)&_pragma=synchronous(full)":   true,
		"_pragma=busy_timeout(8000)&_pragma=journal_mode(wal)&_pragma=synchronous(normal)": false,
		"_pragma=busy_timeout(8000)&_pragma=synchronous(full)":                             false,
		"_pragma=journal_mode(wal)&_pragma=synchronous(full)&_pragma=busy_timeout(0)":      false,
	} {
		db, err := sql.Open("sqlite", "file:"+filepath.Join(t.TempDir(), "x.db")+"?"+pragmas)
		if err != nil {
			t.Fatal(err)
		}
		err = checkSQLite(context.Background(), db)
		if ok != (err == nil) || !ok && !strings.Contains(err.Error(), "cannot be kept as it must") {
			t.Errorf("%s: %v", pragmas, err)
		}
		db.Close()
	}
}
