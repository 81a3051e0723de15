package store

import (
	"context"
	"encoding/json"
	"errors"
	"strings"
	"time"

	"github.com/jackc/pgx/v5"

	"stillsaw/checklists"
)

// The page across mills reads what stands here. Its tables are no mill's: no row of a
// mill's own is copied into them but what a [checklists.MillStanding] holds.

// GroupMill is a mill of the database with how it stood last; At is the zero time
// where that was never told.
type GroupMill struct {
	Tenant
	Standing checklists.MillStanding
	At       time.Time
}

// GroupMills are all mills of the database, in the order of their hosts.
func (p *Postgres) GroupMills(ctx context.Context) ([]GroupMill, error) {
	rows, err := p.reads.Query(ctx, "SELECT t.id, t.host, t.made, coalesce(s.standing, ''), coalesce(s.at, 0) FROM tenants AS t LEFT JOIN group_standings AS s ON s.tenant = t.id ORDER BY t.host")
	if err != nil {
		return nil, err
	}
	return pgx.CollectRows(rows, func(row pgx.CollectableRow) (g GroupMill, err error) {
		var made, at int64
		var standing string
		if err := row.Scan(&g.Mill, &g.Host, &made, &standing, &at); err != nil {
			return g, err
		}
		g.Made = timeOf(made)
		if standing == "" || json.Unmarshal([]byte(standing), &g.Standing) != nil {
			g.Standing = checklists.MillStanding{} // written by another version: not known
			return g, nil
		}
		g.At = timeOf(at)
		return g, nil
	})
}

// KeepStanding writes down how the mill of the hold stood at a time; [ErrNotHeld]
// where another process has the mill now. The tenant's row is shared with commits of
// the mill, which go on beside it, and whoever takes the mill over waits for both.
func (p *Postgres) KeepStanding(ctx context.Context, hold *MillHold, standing checklists.MillStanding, at time.Time) error {
	text, err := json.Marshal(standing)
	if err != nil {
		return err
	}
	done, err := p.writes.Exec(ctx, `INSERT INTO group_standings (tenant, standing, at)
		SELECT id, $3, $4 FROM tenants WHERE id = $1 AND term = $2 FOR SHARE
		ON CONFLICT (tenant) DO UPDATE SET standing = excluded.standing, at = excluded.at`, string(hold.mill), hold.term, string(text), millis(at))
	if err == nil && done.RowsAffected() == 0 {
		hold.lost.Store(true)
		err = ErrNotHeld
	}
	return err
}

// GroupReader is somebody who may read the page across mills.
type GroupReader struct {
	Name string
	Made time.Time // when the password was given
}

// readerKey is a name as it is compared.
func readerKey(name string) string { return strings.ToLower(strings.Join(strings.Fields(name), " ")) }

// SetGroupReader lets somebody read the page across mills with the password of the
// digest. Who could already has that password from now on, and is signed out.
func (p *Postgres) SetGroupReader(ctx context.Context, name, digest string, at time.Time) error {
	key := readerKey(name)
	if key == "" || len(key) > 200 {
		return errors.New("whoever reads the page across mills needs a name")
	}
	return pgx.BeginFunc(ctx, p.writes, func(tx pgx.Tx) error {
		if _, err := tx.Exec(ctx, "DELETE FROM group_readers WHERE key = $1", key); err != nil {
			return err
		}
		_, err := tx.Exec(ctx, "INSERT INTO group_readers (key, name, digest, made) VALUES ($1, $2, $3, $4)", key, strings.Join(strings.Fields(name), " "), digest, millis(at))
		return err
	})
}

// RemoveGroupReader takes that leave away and ends the sessions; [ErrNotFound] where
// nobody has that name.
func (p *Postgres) RemoveGroupReader(ctx context.Context, name string) error {
	done, err := p.writes.Exec(ctx, "DELETE FROM group_readers WHERE key = $1", readerKey(name))
	if err == nil && done.RowsAffected() == 0 {
		err = ErrNotFound
	}
	return err
}

// GroupReaders are all who may read the page across mills, by name.
func (p *Postgres) GroupReaders(ctx context.Context) ([]GroupReader, error) {
	rows, err := p.reads.Query(ctx, "SELECT name, made FROM group_readers ORDER BY key")
	if err != nil {
		return nil, err
	}
	return pgx.CollectRows(rows, func(row pgx.CollectableRow) (r GroupReader, err error) {
		var made int64
		err = row.Scan(&r.Name, &made)
		r.Made = timeOf(made)
		return r, err
	})
}

// GroupDigest is the digest of a reader's password; [ErrNotFound] where nobody has
// that name.
func (p *Postgres) GroupDigest(ctx context.Context, name string) (digest string, err error) {
	return oneText(digest, p.reads.QueryRow(ctx, "SELECT digest FROM group_readers WHERE key = $1", readerKey(name)))
}

// OpenGroupSession signs a reader in until a time, at every process of the database;
// token is the SHA-256 of what the browser has. Sessions that are over go meanwhile.
func (p *Postgres) OpenGroupSession(ctx context.Context, token [32]byte, name string, now, expires time.Time) error {
	if _, err := p.writes.Exec(ctx, "DELETE FROM group_sessions WHERE expires <= $1", millis(now)); err != nil {
		return err
	}
	_, err := p.writes.Exec(ctx, "INSERT INTO group_sessions (token, reader, expires) VALUES ($1, $2, $3)", token[:], readerKey(name), millis(expires))
	return err
}

// GroupSession is the name of who is signed in by a token; [ErrNotFound] where nobody
// is now.
func (p *Postgres) GroupSession(ctx context.Context, token [32]byte, now time.Time) (name string, err error) {
	return oneText(name, p.reads.QueryRow(ctx, "SELECT r.name FROM group_sessions AS s JOIN group_readers AS r ON r.key = s.reader WHERE s.token = $1 AND s.expires > $2", token[:], millis(now)))
}

// CloseGroupSession signs out whoever has the token.
func (p *Postgres) CloseGroupSession(ctx context.Context, token [32]byte) error {
	_, err := p.writes.Exec(ctx, "DELETE FROM group_sessions WHERE token = $1", token[:])
	return err
}

// oneText is the one value of a row; [ErrNotFound] where there is none.
func oneText(value string, row pgx.Row) (string, error) {
	err := row.Scan(&value)
	if errors.Is(err, pgx.ErrNoRows) {
		err = ErrNotFound
	}
	return value, err
}
