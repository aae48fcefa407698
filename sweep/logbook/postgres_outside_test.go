//go:build outside && linux

package logbook

import (
	"sync"
	"testing"

	"headtrue/sweep/logbook/postgrestest"
)

// The server of all tests of this package; TestMain stops it.
var server struct {
	sync.Once
	*postgrestest.Server
}

func init() {
	engines["postgres"] = func(t testing.TB) place {
		server.Do(func() { server.Server = postgrestest.Start(whole) })
		return place{server.Database(t), t.TempDir()}
	}
}
