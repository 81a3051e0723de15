package store

import (
	"errors"
	"fmt"
	"testing"

	"github.com/jackc/pgx/v5/pgconn"
	"github.com/stretchr/testify/require"
)

// Where the server has no room for one more lock, whoever reads the log is told which
// setting to raise and what it is now. That it says so with that code was seen with a
// server of its own, see server/bench/MANY.md: one that is full fails for all it serves.
func TestAFullTableOfLocksSaysWhatToRaise(t *testing.T) {
	p := shared(t)
	require.NoError(t, p.holder.connect(t.Context()))
	var locks, connections int
	require.NoError(t, p.writes.QueryRow(t.Context(), "SELECT current_setting('max_locks_per_transaction')::int, current_setting('max_connections')::int").Scan(&locks, &connections))

	said := &pgconn.PgError{Severity: "ERROR", Code: "53200", Message: "out of shared memory"}
	err := p.holder.full(t.Context(), said)
	require.ErrorIs(t, err, said)
	require.ErrorContains(t, err, "raise max_locks_per_transaction")
	require.ErrorContains(t, err, fmt.Sprintf("it is %d; times max_connections, %d,", locks, connections))

	other := errors.New("the connection broke")
	require.Equal(t, other, p.holder.full(t.Context(), other))
	require.Equal(t, error(&pgconn.PgError{Code: "57014"}), p.holder.full(t.Context(), &pgconn.PgError{Code: "57014"}))
}
