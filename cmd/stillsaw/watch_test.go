package main

import (
	"archive/zip"
	"bytes"
	"context"
	"encoding/json"
	"io"
	"net/http"
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"stillsaw/server/store"
)

func TestServerIsWatchedAtAnAddressOfItsOwnAndLogsToAFile(t *testing.T) {
	ctx, cancel := context.WithCancel(t.Context())
	log := filepath.Join(t.TempDir(), "stillsaw.log")
	s := servingWith(ctx, t, "-addr", "127.0.0.1:0", "-data", t.TempDir(), "-metrics", "127.0.0.1:0", "-log", "json", "-log-file", log)
	found := regexp.MustCompile(`Watched at: +(http://\S+)/metrics`).FindStringSubmatch(s.printed())
	require.NotNil(t, found, s.printed())
	for path, want := range map[string]string{"/metrics": "stillsaw_entries 0\n", "/healthz": "answers\n", "/readyz": "ready\n"} {
		reply, err := http.Get(found[1] + path)
		require.NoError(t, err)
		body, err := io.ReadAll(reply.Body)
		require.NoError(t, err)
		require.NoError(t, reply.Body.Close())
		require.Equal(t, http.StatusOK, reply.StatusCode)
		require.Contains(t, string(body), want)
	}
	reply, err := http.Get("http://" + s.addr + "/metrics")
	require.NoError(t, err)
	require.NoError(t, reply.Body.Close())
	require.NotEqual(t, http.StatusOK, reply.StatusCode, "phones have no figures")
	http.DefaultClient.CloseIdleConnections()
	cancel()
	require.Equal(t, exitOK, <-s.ended, s.printed())

	written, err := os.ReadFile(log)
	require.NoError(t, err)
	lines := strings.Split(strings.TrimSpace(string(written)), "\n")
	for i, message := range []string{"started", "stopped"} {
		var line struct{ Time, Level, Msg string }
		require.NoError(t, json.Unmarshal([]byte(lines[i]), &line), lines[i])
		require.Equal(t, message, line.Msg)
	}
	require.NotContains(t, s.printed(), `"msg"`)
	callIt(t, "-log", "xml").failed(t, exitUsage, `-log "xml" is neither text nor json`)
}

func TestDiagnosisTellsOfTheDatabaseAndOfNobody(t *testing.T) {
	dir := preparedMill(t)
	bundle := filepath.Join(t.TempDir(), "help.zip")
	log := filepath.Join(t.TempDir(), "log")
	require.NoError(t, os.WriteFile(log, []byte("started\nlevel=WARN msg=\"wrong PIN or password\" address=10.1.2.3 person=x\n"+`{"msg":"refused","address":"10.1.2.3"}`+"\n"), 0o600))
	said := callIt(t, "diagnose", "-data", dir, "-log-file", log, bundle)
	require.Equal(t, exitOK, said.status, said)
	callIt(t, "diagnose", "-data", dir, bundle).failed(t, exitWrong, "is there already")
	half := filepath.Join(t.TempDir(), "half.zip")
	callIt(t, "diagnose", "-data", dir, "-log-file", log+"-of-another", half).failed(t, exitWrong, "can't be read")
	require.NoFileExists(t, half, "the next try has its name")

	parts := map[string][]byte{}
	opened, err := zip.OpenReader(bundle)
	require.NoError(t, err)
	for _, file := range opened.File {
		part, err := file.Open()
		require.NoError(t, err)
		parts[file.Name], err = io.ReadAll(part)
		require.NoError(t, err)
		require.NoError(t, part.Close())
	}
	require.NoError(t, opened.Close())
	require.Equal(t, "started\nlevel=WARN msg=\"wrong PIN or password\" address=- person=x\n"+`{"msg":"refused","address":"-"}`+"\n", string(parts["log.txt"]))
	var told store.Diagnosis
	require.NoError(t, json.Unmarshal(parts["database.json"], &told))
	require.Equal(t, []string{"ok"}, told.Faults)
	require.Equal(t, told.Schema.Newest, told.Schema.Has)
	require.EqualValues(t, len(crew())+1, told.Rows["people"])
	require.Positive(t, told.Database)
	var sum int64
	for _, n := range told.Entries {
		sum += n
	}
	require.Equal(t, told.Rows["entries"], sum)
	var program programTold
	require.NoError(t, json.Unmarshal(parts["program.json"], &program))
	require.NotEmpty(t, program.Go)

	st, err := store.Open(t.Context(), dir)
	require.NoError(t, err)
	mill, err := st.TheMill(t.Context())
	require.NoError(t, err)
	people, err := st.Of(mill.ID).People(t.Context())
	require.NoError(t, err)
	private := []string{mill.Name, crewsPIN, string(mill.ID), dir}
	for _, p := range people {
		digest, err := st.Of(mill.ID).Digest(t.Context(), p.ID)
		require.NoError(t, err)
		private = append(private, p.Name, string(p.ID), digest)
	}
	require.NoError(t, st.Close())
	for name, part := range parts {
		for _, word := range private {
			require.False(t, bytes.Contains(part, []byte(word)), "%s has %q", name, word)
		}
	}
}
