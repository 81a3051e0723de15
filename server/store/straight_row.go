package store

import (
	"context"
	"database/sql"
	"errors"
	"fmt"

	"gorm.io/gorm"
)

// straightRow reads the one row that a statement names into to. It is for what each
// request reads, so past the layer that would look at each field. ErrNotFound, with
// what was looked for: there is none.
func straightRow(r reader, what, statement string, args []any, to ...any) error {
	ctx, db := under(r)
	err := db.Statement.ConnPool.QueryRowContext(ctx, placed(db, statement), args...).Scan(to...)
	if errors.Is(err, sql.ErrNoRows) {
		return fmt.Errorf("%s: %w", what, ErrNotFound)
	}
	return err
}

// straightDoc is [straightRow] of a statement that selects a document, which is
// decoded as [readOnce] does it.
func straightDoc[T any](r reader, what, statement string, args ...any) (T, error) {
	var doc string
	if err := straightRow(r, what, statement, args, &doc); err != nil {
		var none T
		return none, err
	}
	return readOnce[T](r, doc)
}

// under is the connection a reader reads over, and as long as what; nothing is made
// anew for it, as [reader].gorm does.
func under(r reader) (context.Context, *gorm.DB) {
	switch r := r.(type) {
	case ctxReader:
		return r.ctx, r.m.s.reads
	case *Tx:
		return r.db.Statement.Context, r.db
	}
	db := r.gorm()
	return db.Statement.Context, db
}
