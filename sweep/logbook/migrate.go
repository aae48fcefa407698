package logbook

import (
	"context"
	"embed"
	"io/fs"

	"github.com/pressly/goose/v3"
)

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

//go:embed migrations
var migrations embed.FS
