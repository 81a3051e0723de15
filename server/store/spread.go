package store

import (
	"context"
	"database/sql/driver"
	"errors"
	"fmt"
	"strings"

	"github.com/jackc/pgx/v5"
	"github.com/jackc/pgx/v5/pgxpool"
	"github.com/jackc/pgx/v5/stdlib"

	"stillsaw/checklists"
)

// A server with the extension Citus is the first of several that the tables lie on, each
// mill's rows together on one of them. The policies that keep mills apart are then asked
// by the server that has the rows, which hears of a setting only if it is of the
// transaction at work, not of the connection.

// spreadExtension is the extension's name, and of its settings the first part.
const spreadExtension = "citus"

// spreads tells whether the database spreads its tables over several servers.
func spreads(ctx context.Context, pool *pgxpool.Pool) (is bool, err error) {
	err = pool.QueryRow(ctx, "SELECT EXISTS (SELECT 1 FROM pg_extension WHERE extname = $1)", spreadExtension).Scan(&is)
	return is, err
}

// spreadSafely refuses where one of the servers may lose an acknowledged commit.
func spreadSafely(ctx context.Context, pool *pgxpool.Pool) error {
	var unsafe int
	err := pool.QueryRow(ctx, `SELECT count(*) FROM run_command_on_all_nodes($$SELECT current_setting('fsync') = 'on'
		AND current_setting('full_page_writes') = 'on' AND current_setting('synchronous_commit') <> 'off'$$) WHERE NOT success OR result <> 't'`).Scan(&unsafe)
	if err == nil && unsafe > 0 {
		return fmt.Errorf("%d of the servers its tables are spread over can't be asked, or run with fsync, full_page_writes or synchronous_commit off: what was signed could be lost when the power fails; switch them on", unsafe)
	}
	return err
}

// spread has each table that has rows of mills spread, by the mill, so that all of a
// mill's rows lie on one server; those it refers to before it. What isn't spread yet has
// to be empty: nobody may read all the rows there, to move them.
func spread(ctx context.Context, tx pgx.Tx) error {
	tables, err := tablesOfMills(ctx, tx, "EXISTS (SELECT 1 FROM pg_dist_partition AS d WHERE d.logicalrelid = c.oid)")
	if err != nil || len(tables) == 0 {
		return err
	}
	// Tables that refer to each other are made one server after the other in one transaction.
	if _, err := tx.Exec(ctx, "SET LOCAL "+spreadExtension+".multi_shard_modify_mode TO 'sequential'"); err != nil {
		return err
	}
	for _, name := range tables {
		table := pgx.Identifier{name}.Sanitize()
		var filled bool
		if err := tx.QueryRow(ctx, "SELECT pg_relation_size($1::regclass) > 0", table).Scan(&filled); err != nil {
			return err
		}
		if filled {
			return fmt.Errorf("its extension %s spreads tables over several servers, but the table %s had rows of mills before: take the extension out again (DROP EXTENSION %s), and to spread them move the mills into an empty database that has it (stillsaw mills move-out, move-in)", spreadExtension, name, spreadExtension)
		}
		with := "mills"
		if name == with {
			with = "none"
		}
		if _, err := tx.Exec(ctx, "SELECT create_distributed_table($1::regclass, $2, colocate_with => $3)", table, millColumn(name), with); err != nil {
			return fmt.Errorf("the table %s can't be spread over the servers: %w", name, err)
		}
	}
	return nil
}

// spreadConn is a connection of one mill to a database that spreads its tables: every
// statement is in a transaction, which first says which mill it is of.
type spreadConn struct {
	*stdlib.Conn
	says   string
	within bool // a transaction is under way
}

func newSpreadConn(conn driver.Conn, mill checklists.MillID) (driver.Conn, error) {
	plain, is := conn.(*stdlib.Conn)
	if !is {
		return nil, fmt.Errorf("a connection is a %T, which can't say its mill in each transaction", conn)
	}
	says := "SET LOCAL " + spreadExtension + ".propagate_set_commands TO 'local'; " +
		"SET LOCAL " + millSetting + " = '" + strings.ReplaceAll(string(mill), "'", "''") + "'" // a setting takes no parameter
	return &spreadConn{Conn: plain, says: says}, nil
}

// BeginTx begins a transaction that says its mill.
func (c *spreadConn) BeginTx(ctx context.Context, options driver.TxOptions) (driver.Tx, error) {
	tx, err := c.Conn.BeginTx(ctx, options)
	if err != nil {
		return nil, err
	}
	if _, err := c.Conn.ExecContext(ctx, c.says, nil); err != nil {
		return nil, errors.Join(err, tx.Rollback())
	}
	c.within = true
	return spreadTx{tx, c}, nil
}

// Begin is BeginTx for who has no context.
//
// Deprecated: as in [driver.Conn].
func (c *spreadConn) Begin() (driver.Tx, error) {
	return c.BeginTx(context.Background(), driver.TxOptions{})
}

// ExecContext carries out a statement, in a transaction of its own where none is under way.
func (c *spreadConn) ExecContext(ctx context.Context, statement string, args []driver.NamedValue) (driver.Result, error) {
	if c.within {
		return c.Conn.ExecContext(ctx, statement, args)
	}
	tx, err := c.BeginTx(ctx, driver.TxOptions{})
	if err != nil {
		return nil, err
	}
	result, err := c.Conn.ExecContext(ctx, statement, args)
	if err != nil {
		return nil, errors.Join(err, tx.Rollback())
	}
	return result, tx.Commit()
}

// QueryContext asks, in a transaction of its own where none is under way, which ends
// once the rows are read.
func (c *spreadConn) QueryContext(ctx context.Context, statement string, args []driver.NamedValue) (driver.Rows, error) {
	if c.within {
		return c.Conn.QueryContext(ctx, statement, args)
	}
	tx, err := c.BeginTx(ctx, driver.TxOptions{})
	if err != nil {
		return nil, err
	}
	rows, err := c.Conn.QueryContext(ctx, statement, args)
	if err != nil {
		return nil, errors.Join(err, tx.Rollback())
	}
	plain, is := rows.(*stdlib.Rows)
	if !is {
		return nil, errors.Join(fmt.Errorf("rows are a %T", rows), rows.Close(), tx.Rollback())
	}
	return &spreadRows{plain, tx}, nil
}

// PrepareContext refuses: what is prepared outside of a transaction would run there, too.
func (c *spreadConn) PrepareContext(ctx context.Context, statement string) (driver.Stmt, error) {
	if !c.within {
		return nil, errors.New("a statement can only be prepared in a transaction here")
	}
	return c.Conn.PrepareContext(ctx, statement)
}

// Prepare is PrepareContext for who has no context.
func (c *spreadConn) Prepare(statement string) (driver.Stmt, error) {
	return c.PrepareContext(context.Background(), statement)
}

type spreadTx struct {
	driver.Tx
	of *spreadConn
}

func (tx spreadTx) Commit() error {
	tx.of.within = false
	return tx.Tx.Commit()
}

func (tx spreadTx) Rollback() error {
	tx.of.within = false
	return tx.Tx.Rollback()
}

type spreadRows struct {
	*stdlib.Rows
	tx driver.Tx
}

func (r *spreadRows) Close() error {
	if err := r.Rows.Close(); err != nil {
		return errors.Join(err, r.tx.Rollback())
	}
	return r.tx.Commit()
}
