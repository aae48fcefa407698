package logbook

import (
	"context"
	"embed"
	"fmt"
	"io/fs"
	"path/filepath"

	"github.com/pressly/goose/v3"
)

//go:embed migrations
var migrations embed.FS

func (b *Book) migrate(ctx context.Context, dialect goose.Dialect) error {
	folder := "migrations/sqlite"
	if dialect == goose.DialectPostgres {
		folder = "migrations/postgres"
	}
	steps, err := fs.Sub(migrations, folder)
	if err != nil {
		return err
	}
	p, err := goose.NewProvider(dialect, b.db, steps)
	if err != nil {
		return err
	}
	has, known, err := p.GetVersions(ctx)
	switch {
	case err != nil:
		return err
	case has > known:
		return &NewerError{"the logbook", has, known}
	case has == known:
		return nil
	}
	_, err = p.Up(ctx)
	return err
}

// version returns the format of the tables.
func (b *Book) version(ctx context.Context) (has int64, err error) {
	err = b.db.QueryRowContext(ctx, "SELECT max(version_id) FROM goose_db_version WHERE is_applied").Scan(&has)
	return has, err
}

// knownVersion returns the newest format of the tables that this program makes.
func knownVersion() (known int64) {
	files, err := fs.Glob(migrations, "migrations/sqlite/*.sql")
	if err != nil {
		return 0
	}
	for _, file := range files {
		var n int64
		if _, err := fmt.Sscanf(filepath.Base(file), "%d_", &n); err == nil {
			known = max(known, n)
		}
	}
	return known
}
