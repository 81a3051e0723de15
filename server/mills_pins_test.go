package server

import (
	"log/slog"
	"runtime"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"stillsaw/checklists"
	"stillsaw/server/store"
	"stillsaw/server/store/scratchdb"
)

// However many mills a process holds, as many PINs are checked at once as it has
// cores: each takes 19 MiB, and at the start of the shift all mills send theirs.
func TestMillsShareThePlacesOfPINs(t *testing.T) {
	if !scratchdb.Asked() {
		t.Skip("needs a PostgreSQL server, see " + scratchdb.Variable)
	}
	db, err := store.OpenPostgres(t.Context(), scratchdb.New(t, ""), store.PostgresOptions{MayLose: true})
	require.NoError(t, err)
	defer func() { require.NoError(t, db.Close()) }()
	m, err := NewMills(MillsConfig{DB: db, Data: t.TempDir(), Now: time.Now, Log: slog.New(slog.DiscardHandler)})
	require.NoError(t, err)
	defer func() { require.NoError(t, m.Stop()) }()
	var places []chan struct{}
	for _, host := range []string{"brook.example", "ridge.example"} {
		require.NoError(t, db.AddTenant(t.Context(), store.Tenant{Mill: checklists.MillID(store.NewID()), Host: host, Made: time.Now()}))
		here, err := m.at(host)
		require.NoError(t, err)
		places = append(places, here.server.hashing)
	}
	require.Equal(t, places[0], places[1])
	require.Equal(t, runtime.NumCPU(), cap(places[0]))
}
