package logbook

import (
	"context"
	"database/sql"

	"github.com/jackc/pgx/v5"
	"github.com/jackc/pgx/v5/stdlib"
)

// schema holds the tables; the database may hold others.
const schema = "headtrue"

// Advisory locks of the server: one for changes of the tables, and a class for the runs
// being written. The numbers are our own choice.
const (
	openingLock  = 0x68747275
	runningClass = 0x68747272
)

type postgresEngine struct{ db *sql.DB }

// openPostgres prepares the connection. A password comes from the environment
// (PGPASSWORD) or a .pgpass file, not from the place, which is shown.
func (b *Book) openPostgres() error {
	config, err := pgx.ParseConfig(string(b.where))
	if err != nil {
		return err
	}
	config.RuntimeParams["search_path"] = schema
	config.RuntimeParams["application_name"] = "headtrue"
	config.RuntimeParams["synchronous_commit"] = "on" // a save is on the disk when it returns
	// A connection that was cut silently must not keep its locks for hours.
	config.RuntimeParams["idle_in_transaction_session_timeout"] = "20s"
	config.RuntimeParams["tcp_keepalives_idle"] = "20"
	config.RuntimeParams["tcp_keepalives_interval"] = "10"
	config.RuntimeParams["tcp_keepalives_count"] = "3"
	b.db = stdlib.OpenDB(*config)
	b.engine = postgresEngine{b.db}
	return nil
}

func (e postgresEngine) migrating(ctx context.Context, do func() error) error {
	conn, err := e.db.Conn(ctx)
	if err != nil {
		return err
	}
	defer conn.Close()
	if _, err := conn.ExecContext(ctx, "SELECT pg_advisory_lock($1)", openingLock); err != nil {
		return err
	}
	defer conn.ExecContext(context.WithoutCancel(ctx), "SELECT pg_advisory_unlock($1)", openingLock)
	var there bool
	if err := conn.QueryRowContext(ctx, "SELECT EXISTS (SELECT 1 FROM pg_namespace WHERE nspname = $1)", schema).Scan(&there); err != nil {
		return err
	}
	if !there {
		if _, err := conn.ExecContext(ctx, "CREATE SCHEMA "+schema); err != nil {
			return err
		}
	}
	return do()
}

func (e postgresEngine) held(ctx context.Context, _ string, id int64) (held bool, err error) {
	err = e.db.QueryRowContext(ctx, `SELECT EXISTS (SELECT 1 FROM pg_locks WHERE locktype = 'advisory' AND granted
		AND database = (SELECT oid FROM pg_database WHERE datname = current_database())
		AND classid::bigint = $1 AND objid::bigint = $2)`, runningClass, int64(uint32(id))).Scan(&held)
	return held, err
}

// intact leaves this to the server, whose pages have their own checksums.
func (e postgresEngine) intact(context.Context) error { return nil }
