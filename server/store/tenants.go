package store

import (
	"context"
	"errors"
	"fmt"
	"net"
	"regexp"
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

// AddTenant makes room for a mill, which is set up over the web then. The error says
// where another mill has that name.
func (p *Postgres) AddTenant(ctx context.Context, t Tenant) (err error) {
	if t.Host, err = hostName(t.Host); err != nil {
		return err
	}
	_, err = p.writes.Exec(ctx, addTenant, t.row()...)
	return t.taken(err)
}

// addTenant begins with a term that no mill had before, one of the same id that was
// removed neither: terms are numbers of transactions, which a server gives once.
const addTenant = "INSERT INTO tenants (id, host, made, code, term) VALUES ($1, $2, $3, $4, txid_current())"

func (t Tenant) row() []any { return []any{string(t.Mill), t.Host, millis(t.Made), t.Code} }

// RenameTenant has a mill reached under another host. A process that holds the mill
// lets go of it with its next commit, in some seconds at the latest (see
// [Postgres.LoseWhatIsNot]), and answers under the earlier host until then; what it
// would write is refused.
func (p *Postgres) RenameTenant(ctx context.Context, mill checklists.MillID, host string) (err error) {
	t := Tenant{Mill: mill}
	if t.Host, err = hostName(host); err != nil {
		return err
	}
	done, err := p.writes.Exec(ctx, "UPDATE tenants SET host = $2, holder = '', address = '', term = txid_current() WHERE id = $1", string(mill), t.Host)
	if err == nil && done.RowsAffected() == 0 {
		err = ErrNotFound
	}
	return t.taken(err)
}

// hostName is the host that text names, as browsers send it: an address of a computer,
// or labels of letters, digits and hyphens with dots between (RFC 1123, 2.1; the
// lengths are those of RFC 1035, 2.3.4). A port is left out.
func hostName(text string) (string, error) {
	host := Host(text)
	if net.ParseIP(host) != nil {
		return host, nil
	}
	wrong := strings.ContainsAny(text, "/@") || len(host) > 253
	for label := range strings.SplitSeq(host, ".") {
		wrong = wrong || !hostLabel.MatchString(label)
	}
	if wrong {
		return "", fmt.Errorf("%q is no name of a computer, as mill.example.com is: it has letters a to z, digits and hyphens, without https:// before it. One with other letters is given as browsers send it, beginning with xn--", text)
	}
	return host, nil
}

var hostLabel = regexp.MustCompile(`^[a-z0-9]([a-z0-9-]{0,61}[a-z0-9])?$`)

// taken says of an error of the database where another mill has the name.
func (t Tenant) taken(err error) error {
	var refused *pgconn.PgError
	if errors.As(err, &refused) && refused.Code == "23505" { // unique_violation
		return fmt.Errorf("this database has a mill of the name %s or of the id %s already", t.Host, t.Mill)
	}
	return err
}
