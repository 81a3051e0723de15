package store

import (
	"context"
	"errors"
	"fmt"
	"net"
	"strings"
	"time"

	"github.com/jackc/pgx/v5"
	"github.com/jackc/pgx/v5/pgconn"

	"stillsaw/checklists"
)

// Tenant is a mill of a shared database and by what name its people reach it.
type Tenant struct {
	Mill checklists.MillID
	Host string // as in https://HOST/, in small letters
	Made time.Time
	Code string // lets the first supervisor set it up over the web; "" once that is done
}

// Tenants are all mills of the database, in the order of their names.
func (p *Postgres) Tenants(ctx context.Context) ([]Tenant, error) {
	rows, err := p.reads.Query(ctx, "SELECT id, host, made, code FROM tenants ORDER BY host")
	if err != nil {
		return nil, err
	}
	return pgx.CollectRows(rows, func(row pgx.CollectableRow) (t Tenant, err error) {
		var made int64
		err = row.Scan(&t.Mill, &t.Host, &made, &t.Code)
		t.Made = timeOf(made)
		return t, err
	})
}

// TenantAt is the mill reached under host; [ErrNotFound] where there is none.
func (p *Postgres) TenantAt(ctx context.Context, host string) (t Tenant, err error) {
	var made int64
	err = p.reads.QueryRow(ctx, "SELECT id, host, made, code FROM tenants WHERE host = $1", Host(host)).Scan(&t.Mill, &t.Host, &made, &t.Code)
	t.Made = timeOf(made)
	if errors.Is(err, pgx.ErrNoRows) {
		err = ErrNotFound
	}
	return t, err
}

// Host is the name of a computer as it is compared: in small letters, without port.
func Host(host string) string {
	if name, _, err := net.SplitHostPort(host); err == nil {
		host = name
	}
	return strings.TrimSuffix(strings.ToLower(host), ".")
}

// AddTenant makes room for a mill, which is set up over the web then, or moved in. The
// error says where another mill has that name.
func (p *Postgres) AddTenant(ctx context.Context, t Tenant) error {
	t.Host = Host(t.Host)
	if err := t.named(); err != nil {
		return err
	}
	_, err := p.writes.Exec(ctx, "INSERT INTO tenants (id, host, made, code) VALUES ($1, $2, $3, $4)", string(t.Mill), t.Host, millis(t.Made), t.Code)
	return t.taken(err)
}

// RenameTenant has a mill reached under another host. A process that holds the mill
// lets go of it with its next commit, in some minutes at the latest, and answers under
// the earlier host until then; what it would write is refused.
func (p *Postgres) RenameTenant(ctx context.Context, mill checklists.MillID, host string) error {
	t := Tenant{Mill: mill, Host: Host(host)}
	if err := t.named(); err != nil {
		return err
	}
	done, err := p.writes.Exec(ctx, "UPDATE tenants SET host = $2, holder = '', address = '', term = term + 1 WHERE id = $1", string(mill), t.Host)
	if err == nil && done.RowsAffected() == 0 {
		err = ErrNotFound
	}
	return t.taken(err)
}

// named refuses a host that can't be one.
func (t Tenant) named() error {
	if t.Mill == "" || t.Host == "" || strings.ContainsAny(t.Host, "/ @?#") {
		return fmt.Errorf("%q is no name of a computer, as mill.example.com is", t.Host)
	}
	return nil
}

// taken says of an error of the database where another mill has the name.
func (t Tenant) taken(err error) error {
	var refused *pgconn.PgError
	if errors.As(err, &refused) && refused.Code == "23505" { // unique_violation
		return fmt.Errorf("this database has a mill of the name %s or of the id %s already", t.Host, t.Mill)
	}
	return err
}

// RemoveTenant forgets a mill of which nothing lies in the tables.
func (p *Postgres) RemoveTenant(ctx context.Context, mill checklists.MillID) error {
	_, err := p.writes.Exec(ctx, "DELETE FROM tenants WHERE id = $1", string(mill))
	return err
}
