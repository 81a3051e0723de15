package store

import (
	"context"
	"errors"
	"fmt"
	"maps"
	"slices"
	"sync"
	"sync/atomic"

	"github.com/jackc/pgx/v5"
	"github.com/jackc/pgx/v5/pgconn"
	"gorm.io/gorm"

	"stillsaw/checklists"
)

// ErrNotHeld is a mill that another process has taken over since: it waited for a
// process that had gone quiet, and what this one would write now stands beside what
// that one knows. Nothing was saved.
var ErrNotHeld = errors.New("another process of Stillsaw has this mill now; nothing was saved, send it again in a moment")

// HeldElsewhere is a mill that another process holds.
type HeldElsewhere struct {
	Mill    checklists.MillID
	Address string // where that process answers for it
}

func (e *HeldElsewhere) Error() string {
	return fmt.Sprintf("the mill %s is held by the process at %s", e.Mill, e.Address)
}

// MillHold is a mill held by this process: of several that share a database one at a
// time has its writer, its rounds and its streams. The lock is the server's and of a
// connection: it ends with the process, however that ends. Should the connection
// break and another process take the mill, the term it then has is higher, and each
// commit under the earlier one is refused.
type MillHold struct {
	mill checklists.MillID
	term int64
	lost atomic.Bool
}

// Lost tells whether a commit was refused because another process has the mill now.
func (hold *MillHold) Lost() bool { return hold.lost.Load() }

// holder has the one connection whose locks are this process's mills.
type holder struct {
	p    *Postgres
	name string // of this process among the holders

	mu   sync.Mutex
	conn *pgx.Conn
	held map[checklists.MillID]bool
}

func newHolder(p *Postgres) *holder {
	return &holder{p: p, name: NewID(), held: map[checklists.MillID]bool{}}
}

// lockOf is the number of a mill's lock, told apart from those of other programs by
// the word before the id.
const lockOf = "hashtextextended('stillsaw mill ' || $1, 0)"

// Hold takes a mill for this process, which answers for it at address; [HeldElsewhere]
// where another has it, and [ErrNotFound] where there is no such tenant.
func (p *Postgres) Hold(ctx context.Context, mill checklists.MillID, address string) (*MillHold, error) {
	h := p.holder
	h.mu.Lock()
	defer h.mu.Unlock()
	if err := h.connect(ctx); err != nil {
		return nil, err
	}
	taken := h.held[mill]
	if !taken {
		if err := h.conn.QueryRow(ctx, "SELECT pg_try_advisory_lock("+lockOf+")", string(mill)).Scan(&taken); err != nil {
			return nil, h.full(ctx, err)
		}
	}
	if !taken {
		elsewhere := &HeldElsewhere{Mill: mill}
		err := h.conn.QueryRow(ctx, "SELECT address FROM tenants WHERE id = $1", string(mill)).Scan(&elsewhere.Address)
		if errors.Is(err, pgx.ErrNoRows) {
			return nil, ErrNotFound
		}
		return nil, errors.Join(err, elsewhere)
	}
	hold := &MillHold{mill: mill}
	err := h.conn.QueryRow(ctx, "UPDATE tenants SET holder = $2, address = $3, term = term + 1 WHERE id = $1 RETURNING term", string(mill), h.name, address).Scan(&hold.term)
	if err != nil {
		_, undone := h.conn.Exec(ctx, "SELECT pg_advisory_unlock("+lockOf+")", string(mill))
		if errors.Is(err, pgx.ErrNoRows) {
			err = ErrNotFound
		}
		return nil, errors.Join(h.full(ctx, err), undone) // what comes to a full table is as often the row's locks as the mill's
	}
	h.held[mill] = true
	return hold, nil
}

// LetGo gives a mill back, once its store is closed.
func (p *Postgres) LetGo(ctx context.Context, hold *MillHold) error {
	h := p.holder
	h.mu.Lock()
	defer h.mu.Unlock()
	if !h.held[hold.mill] {
		return nil
	}
	delete(h.held, hold.mill)
	if h.conn == nil || h.conn.IsClosed() {
		return nil
	}
	_, err := h.conn.Exec(ctx, "SELECT pg_advisory_unlock("+lockOf+")", string(hold.mill))
	return err
}

// LocksFull is a server that has no room for one more lock: each mill that a process
// holds is one. Acts of the mills that are held need locks, too, so that they fail
// meanwhile as well.
type LocksFull struct {
	Locks, Connections, Prepared int // as set: max_locks_per_transaction, max_connections, max_prepared_transactions; 0 where it didn't say
	err                          error
}

func (e *LocksFull) Error() string {
	return fmt.Sprintf("the PostgreSQL server has no room for one more lock, and each mill held is one: raise max_locks_per_transaction there (it is %d; times max_connections, %d, and max_prepared_transactions, %d, it should be twice the number of mills or more) and restart that server: %v", e.Locks, e.Connections, e.Prepared, oneLine{e.err})
}

func (e *LocksFull) Unwrap() error { return e.err }

// full is err, and where it says that the table of locks is full, what to raise.
func (h *holder) full(ctx context.Context, err error) error {
	var refused *pgconn.PgError
	if !errors.As(err, &refused) || refused.Code != "53200" { // out_of_memory, which is said of memory shared for locks, too
		return err
	}
	e := &LocksFull{err: err}
	asked := h.conn.QueryRow(ctx, "SELECT current_setting('max_locks_per_transaction')::int, current_setting('max_connections')::int, current_setting('max_prepared_transactions')::int").
		Scan(&e.Locks, &e.Connections, &e.Prepared)
	return errors.Join(e, asked)
}

// holderSettings have the server find out within half a minute that a process is gone
// whose computer went off without a word, and never end the connection for being quiet.
var holderSettings = map[string]string{
	"tcp_keepalives_idle": "10", "tcp_keepalives_interval": "5", "tcp_keepalives_count": "4",
	"tcp_user_timeout": "30000", "idle_session_timeout": "0",
}

// connect makes the connection, or makes it anew where it broke: its locks are gone
// then, and each mill is taken again by who next asks for it.
func (h *holder) connect(ctx context.Context) error {
	if h.conn != nil && h.conn.Ping(ctx) == nil {
		return nil
	}
	if h.conn != nil {
		_ = h.conn.Close(ctx) // it is broken already
	}
	clear(h.held)
	config := h.p.writes.Config().ConnConfig
	for name, value := range holderSettings {
		config.RuntimeParams[name] = value
	}
	conn, err := pgx.ConnectConfig(ctx, config)
	if err != nil {
		return err
	}
	h.conn = conn
	return nil
}

func (h *holder) close() {
	h.mu.Lock()
	defer h.mu.Unlock()
	if h.conn != nil {
		_ = h.conn.Close(context.Background()) // the server lets go of the locks either way
	}
}

// Renew looks whether the connection with this process's holds is there, and where it
// broke makes another and takes again what nobody took meanwhile. A mill that is gone
// is found out by its next commit.
func (p *Postgres) Renew(ctx context.Context) error {
	h := p.holder
	h.mu.Lock()
	defer h.mu.Unlock()
	before := slices.Collect(maps.Keys(h.held))
	if err := h.connect(ctx); err != nil {
		return err
	}
	for _, mill := range before {
		if h.held[mill] {
			continue
		}
		var again bool
		if err := h.conn.QueryRow(ctx, "SELECT pg_try_advisory_lock("+lockOf+")", string(mill)).Scan(&again); err != nil {
			return h.full(ctx, err)
		}
		if again {
			h.held[mill] = true
		}
	}
	return nil
}

// still refuses where the mill's term is not that of the hold. The row stays as it is
// until the transaction of db ends, so that whoever takes the mill over waits for it.
func (hold *MillHold) still(db *gorm.DB) error {
	if hold == nil {
		return nil
	}
	var term int64
	if err := db.Raw("SELECT term FROM tenants WHERE id = ? FOR SHARE", hold.mill).Scan(&term).Error; err != nil {
		return err
	}
	if term != hold.term {
		hold.lost.Store(true)
		return ErrNotHeld
	}
	return nil
}
