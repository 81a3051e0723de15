package store

import (
	"context"
	"errors"
	"fmt"
	"sync"
	"sync/atomic"
	"time"

	"github.com/jackc/pgx/v5"
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
// time has its writer, its rounds and its streams. Which process has a mill stands in
// the table of tenants; that the process is there, a lock of its one connection tells,
// which ends with it, however that ends. Should the connection break and another
// process take the mill, the term it then has is one no mill had before, and each
// commit under the earlier one is refused.
type MillHold struct {
	mill checklists.MillID
	term int64
	step int // of the upgrades, which the process knows the tables at
	lost atomic.Bool
}

// Lost tells whether a commit was refused because another process has the mill now, or
// a newer one has upgraded the tables.
func (hold *MillHold) Lost() bool { return hold.lost.Load() }

// holder has the one connection whose lock says that this process is there. It is one
// lock for all its mills: the server has room for some thousands, for everybody's
// statements together.
type holder struct {
	p    *Postgres
	name string // of this process among the holders

	mu   sync.Mutex
	conn *pgx.Conn
}

func newHolder(p *Postgres) *holder { return &holder{p: p, name: NewID()} }

// lockOf is the number of a process's lock, told apart from those of other programs by
// the words before its name.
const lockOf = "hashtextextended('stillsaw process ' || $1, 0)"

// Hold takes a mill for this process, which answers for it at address; [HeldElsewhere]
// where another has it, and [ErrNotFound] where there is no such tenant.
func (p *Postgres) Hold(ctx context.Context, mill checklists.MillID, address string) (hold *MillHold, err error) {
	h := p.holder
	h.mu.Lock()
	defer h.mu.Unlock()
	if err := h.connect(ctx); err != nil {
		return nil, err
	}
	err = pgx.BeginFunc(ctx, h.conn, func(tx pgx.Tx) error {
		// Of several that want the mill one goes on; commits under way end first.
		var holder string
		elsewhere := &HeldElsewhere{Mill: mill}
		var step int
		err := tx.QueryRow(ctx, "SELECT holder, address, (SELECT max(number) FROM migrations) FROM tenants WHERE id = $1 FOR UPDATE", string(mill)).Scan(&holder, &elsewhere.Address, &step)
		if errors.Is(err, pgx.ErrNoRows) {
			return ErrNotFound
		}
		if err != nil {
			return err
		}
		if step > p.step {
			return fmt.Errorf("the database %s: %w", p.address, ErrUpgraded)
		}
		if holder != "" && holder != h.name {
			var gone bool
			if err := tx.QueryRow(ctx, "SELECT pg_try_advisory_xact_lock("+lockOf+")", holder).Scan(&gone); err != nil {
				return err
			}
			if !gone {
				return elsewhere
			}
		}
		hold = &MillHold{mill: mill, step: p.step}
		return tx.QueryRow(ctx, "UPDATE tenants SET holder = $2, address = $3, term = txid_current() WHERE id = $1 RETURNING term", string(mill), h.name, address).Scan(&hold.term)
	})
	if err != nil {
		return nil, err
	}
	return hold, nil
}

// LoseWhatIsNot looks which of holds are this process's no more, since the mill was
// taken over, renamed or removed or the tables were upgraded, so that its pages go
// before somebody acts on them.
func (p *Postgres) LoseWhatIsNot(ctx context.Context, holds []*MillHold) error {
	terms := map[checklists.MillID]int64{}
	newest := 0
	rows, err := p.reads.Query(ctx, "SELECT id, term, (SELECT max(number) FROM migrations) FROM tenants WHERE holder = $1", p.holder.name)
	if err != nil {
		return err
	}
	var mill checklists.MillID
	var term int64
	if _, err := pgx.ForEachRow(rows, []any{&mill, &term, &newest}, func() error { terms[mill] = term; return nil }); err != nil {
		return err
	}
	for _, hold := range holds {
		if term, ours := terms[hold.mill]; !ours || term != hold.term || newest > hold.step {
			hold.lost.Store(true)
		}
	}
	return nil
}

// LetGo gives a mill back, once its store is closed. One that was taken over stays with
// who has it.
func (p *Postgres) LetGo(ctx context.Context, hold *MillHold) error {
	h := p.holder
	h.mu.Lock()
	defer h.mu.Unlock()
	if h.conn == nil || h.conn.IsClosed() {
		return nil // as good as gone: nobody has this process's lock
	}
	_, err := h.conn.Exec(ctx, "UPDATE tenants SET holder = '', address = '' WHERE id = $1 AND holder = $2 AND term = $3", string(hold.mill), h.name, hold.term)
	return err
}

// holderSettings have the server find out within half a minute that a process is gone
// whose computer went off without a word, and never end the connection for being quiet.
var holderSettings = map[string]string{
	"tcp_keepalives_idle": "10", "tcp_keepalives_interval": "5", "tcp_keepalives_count": "4",
	"tcp_user_timeout": "30000", "idle_session_timeout": "0",
}

// errStillThere is a lock of this process that its earlier connection seems to have:
// the server has not found out yet that it broke.
var errStillThere = errors.New("the database has not let go of this process's earlier connection yet; in half a minute it will have")

// connect makes the connection, or makes it anew where it broke. The mills are this
// process's still, but for those that another took meanwhile, which their next commit
// finds out.
func (h *holder) connect(ctx context.Context) error {
	if h.conn != nil && h.conn.Ping(ctx) == nil {
		return nil
	}
	if h.conn != nil {
		_ = h.conn.Close(ctx) // it is broken already
	}
	config := h.p.writes.Config().ConnConfig
	for name, value := range holderSettings {
		config.RuntimeParams[name] = value
	}
	conn, err := pgx.ConnectConfig(ctx, config)
	if err != nil {
		return err
	}
	// Who looks whether this process is there has the lock for a moment.
	for try := 0; ; try++ {
		var taken bool
		if err := conn.QueryRow(ctx, "SELECT pg_try_advisory_lock("+lockOf+")", h.name).Scan(&taken); err != nil {
			return errors.Join(err, conn.Close(ctx))
		}
		if taken {
			h.conn = conn
			return nil
		}
		if try == 20 {
			return errors.Join(errStillThere, conn.Close(ctx))
		}
		time.Sleep(25 * time.Millisecond)
	}
}

func (h *holder) close() {
	h.mu.Lock()
	defer h.mu.Unlock()
	if h.conn != nil {
		_ = h.conn.Close(context.Background()) // the server lets go of the locks either way
	}
}

// Renew looks whether the connection is there that says this process is, and where it
// broke makes another.
func (p *Postgres) Renew(ctx context.Context) error {
	p.holder.mu.Lock()
	defer p.holder.mu.Unlock()
	return p.holder.connect(ctx)
}

// still refuses where the mill's term is not that of the hold, or its tables are at a
// later step than this program knows. The row stays as it is
// until the transaction of db ends, so that whoever takes the mill over waits for it.
func (hold *MillHold) still(db *gorm.DB) error {
	if hold == nil {
		return nil
	}
	var now struct {
		Term int64
		Step int
	}
	if err := db.Raw("SELECT term, (SELECT max(number) FROM migrations) AS step FROM tenants WHERE id = ? FOR SHARE", hold.mill).Scan(&now).Error; err != nil {
		return err
	}
	switch {
	case now.Term != hold.term:
		hold.lost.Store(true)
		return ErrNotHeld
	case now.Step > hold.step:
		hold.lost.Store(true)
		return fmt.Errorf("the database %w", ErrUpgraded)
	}
	return nil
}
