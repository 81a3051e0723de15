package store

import (
	"context"
	"embed"
	"fmt"

	"github.com/jackc/pgx/v5"
)

// The steps for PostgreSQL: the whole schema as it was when the first mill came to
// lie there, and of every later step of [migrationFiles] its twin of the same name.
//
//go:embed migrations/postgres/*.sql
var postgresFiles embed.FS

// postgresWhole is the step the whole schema is of.
const postgresWhole = 31

// upgradeLock is the number of the lock under which one process at a time upgrades.
const upgradeLock = 0x5354494c4c534157

func postgresMigrations() ([]migration, error) { return stepsIn(postgresFiles, "migrations/postgres") }

// migrate brings the tables to this version, all the steps or none, and puts the
// policy that keeps mills apart on each that is not under it yet.
func (p *Postgres) migrate(ctx context.Context) error {
	all, err := postgresMigrations()
	if err != nil {
		return err
	}
	newest := all[len(all)-1].number
	p.step = newest
	return pgx.BeginFunc(ctx, p.writes, func(tx pgx.Tx) error {
		if _, err := tx.Exec(ctx, "SELECT pg_advisory_xact_lock($1)", int64(upgradeLock)); err != nil {
			return err
		}
		at, err := postgresVersion(ctx, tx)
		switch {
		case err != nil:
			return err
		case at > newest:
			return ErrUpgraded
		case at == newest:
			return p.apart(ctx, tx)
		}
		for _, m := range all {
			if m.number <= at {
				continue
			}
			if _, err := tx.Exec(ctx, m.sql); err != nil {
				return fmt.Errorf("upgrade step %s failed and all of them were taken back, so that the earlier Stillsaw opens it still: %w", m.name, err)
			}
			if err := noted(ctx, tx, m); err != nil {
				return err
			}
		}
		return p.apart(ctx, tx)
	})
}

// noted says in the list of upgrades that a step was made, and with the whole schema
// all before it.
func noted(ctx context.Context, tx pgx.Tx, made migration) error {
	steps, err := migrations()
	if err != nil {
		return err
	}
	for _, m := range steps {
		if m.number != made.number && (made.number != postgresWhole || m.number > postgresWhole) {
			continue
		}
		if _, err := tx.Exec(ctx, "INSERT INTO migrations (number, name) VALUES ($1, $2)", m.number, m.name); err != nil {
			return err
		}
	}
	return nil
}

func postgresVersion(ctx context.Context, tx pgx.Tx) (at int, err error) {
	var there bool
	if err := tx.QueryRow(ctx, "SELECT to_regclass('migrations') IS NOT NULL").Scan(&there); err != nil || !there {
		return 0, err
	}
	err = tx.QueryRow(ctx, "SELECT coalesce(max(number), 0) FROM migrations").Scan(&at)
	return at, err
}

// tablesOfMills are the tables that have rows of mills, in the order they were made in,
// but for those that are done: a condition on their row c of pg_class.
func tablesOfMills(ctx context.Context, tx pgx.Tx, done string) ([]string, error) {
	rows, err := tx.Query(ctx, `SELECT c.relname FROM pg_class AS c
		WHERE c.relkind IN ('r', 'p') AND c.relnamespace = to_regnamespace(current_schema())::oid
		AND (c.relname = 'mills' OR EXISTS (SELECT 1 FROM pg_attribute AS a WHERE a.attrelid = c.oid AND a.attname = 'mill' AND NOT a.attisdropped))
		AND NOT (`+done+`) ORDER BY c.oid`)
	if err != nil {
		return nil, err
	}
	return pgx.CollectRows(rows, pgx.RowTo[string])
}

// apart puts every table that has rows of mills under the policy that a connection
// sees, changes and adds only those of the mill it says it is of; one that says
// nothing, none. It holds for the owner of the tables, too. That the policies are
// there is looked up anew at each start, so that one taken away comes back.
func (p *Postgres) apart(ctx context.Context, tx pgx.Tx) error {
	tables, err := tablesOfMills(ctx, tx, `c.relrowsecurity AND c.relforcerowsecurity
		AND EXISTS (SELECT 1 FROM pg_policy AS o WHERE o.polrelid = c.oid AND o.polname = 'one_mill')`)
	if err != nil {
		return err
	}
	for _, name := range tables {
		table, column := pgx.Identifier{name}.Sanitize(), pgx.Identifier{millColumn(name)}.Sanitize()
		of := column + " = current_setting('" + millSetting + "', true)"
		for _, statement := range []string{
			"ALTER TABLE " + table + " ENABLE ROW LEVEL SECURITY", "ALTER TABLE " + table + " FORCE ROW LEVEL SECURITY",
			"DROP POLICY IF EXISTS one_mill ON " + table,
			"CREATE POLICY one_mill ON " + table + " USING (" + of + ") WITH CHECK (" + of + ")",
		} {
			if _, err := tx.Exec(ctx, statement); err != nil {
				return fmt.Errorf("the policy that keeps mills apart can't be put on the table %s: %w", name, err)
			}
		}
	}
	if !p.spread {
		return nil
	}
	return spread(ctx, tx)
}
