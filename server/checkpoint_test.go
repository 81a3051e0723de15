package server

import (
	"encoding/base64"
	"fmt"
	"net/http"
	"net/url"
	"strconv"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
	formats "github.com/transparency-dev/formats/proof"
	merkle "github.com/transparency-dev/merkle/proof"
	"github.com/transparency-dev/merkle/rfc6962"
	"golang.org/x/mod/sumdb/note"

	"stillsaw/server/record"
	"stillsaw/server/store"
)

// withKey lets the mill have a key.
func (m *testMill) withKey() note.Verifier {
	m.t.Helper()
	key, err := m.desk().EnsureKey(m.t.Context(), m.clock.Now())
	require.NoError(m.t, err)
	verifier, err := note.NewVerifier(key.Verifier)
	require.NoError(m.t, err)
	return verifier
}

// hashesOf are hashes in base64, one a line.
func hashesOf(t *testing.T, lines string) [][]byte {
	t.Helper()
	var all [][]byte
	for _, line := range strings.Fields(lines) {
		hash, err := base64.StdEncoding.DecodeString(line)
		require.NoError(t, err)
		all = append(all, hash)
	}
	return all
}

// Against transparency-dev/formats and transparency-dev/merkle (C2SP tlog-proof
// and tlog-checkpoint, RFC 6962 sections 2.1.1 and 2.1.2).
func TestCheckpointAndItsProofsAreAcceptedElsewhere(t *testing.T) {
	t.Parallel()
	m := newMill(t)
	nobody := m.phone()
	require.Equal(t, http.StatusServiceUnavailable, nobody.get("/checkpoint").Status, "without a key")
	verifier := m.withKey()
	older := nobody.get("/checkpoint")
	was, _, err := record.OpenCheckpoint(older.Body, verifier)
	require.NoError(t, err)
	require.Equal(t, m.size(), was.Size)
	for range 5 {
		m.stop("ada", "hoist", "hook bent")
	}
	reply := nobody.get("/checkpoint/consistency?from=" + strconv.FormatInt(was.Size, 10))
	hashes, text, _ := strings.Cut(reply.Body, "\n\n")
	now, _, err := record.OpenCheckpoint(text, verifier)
	require.NoError(t, err)
	require.NoError(t, merkle.VerifyConsistency(rfc6962.DefaultHasher, uint64(was.Size), uint64(now.Size), hashesOf(t, hashes), was.Root[:], now.Root[:]))
	same := nobody.get("/checkpoint/consistency?from=" + strconv.FormatInt(now.Size, 10))
	require.Equal(t, "\n"+text, same.Body, "of equal sizes there is nothing to prove")
	require.Equal(t, "\n"+text, nobody.get("/checkpoint/consistency").Body)
	beyond := nobody.get("/checkpoint/consistency?from=99999")
	require.Equal(t, http.StatusConflict, beyond.Status)
	require.Equal(t, "\n"+text, beyond.Body, "what is there is to be kept")
	for _, bad := range []string{"-1", "x", "1e3"} {
		require.Equal(t, http.StatusBadRequest, nobody.get("/checkpoint/consistency?from="+bad).Status, bad)
	}

	rita := m.as("rita")
	for _, seq := range []int64{0, 3, now.Size - 1} {
		var said formats.TLogProof
		body := rita.get(fmt.Sprintf("/record/%d/proof", seq)).Body
		require.NoError(t, said.Unmarshal([]byte(body)))
		require.Equal(t, body, string(said.Marshal()), "the one form there is")
		head, _, err := record.OpenCheckpoint(string(said.Checkpoint), verifier)
		require.NoError(t, err)
		_, leaf, err := m.desk().Leaf(t.Context(), seq)
		require.NoError(t, err)
		require.Equal(t, leaf, said.ExtraData, "nothing is needed beside it")
		var path [][]byte
		for _, hash := range said.Hashes {
			path = append(path, hash[:])
		}
		check := func(leaf []byte) error {
			return merkle.VerifyInclusion(rfc6962.DefaultHasher, said.Index, uint64(head.Size), rfc6962.DefaultHasher.HashLeaf(leaf), path, head.Root[:])
		}
		require.NoError(t, check(leaf))
		require.Error(t, check(append([]byte("x"), leaf...)))
	}
	require.Equal(t, http.StatusNotFound, rita.get(fmt.Sprintf("/record/%d/proof", now.Size)).Status)
	require.Equal(t, http.StatusNotFound, rita.get("/record/x/proof").Status)
}

func TestVerifyPageTellsAnInspectorWhoSignedAndWhatWasKept(t *testing.T) {
	t.Parallel()
	m := newMill(t)
	rita := m.as("rita")
	rita.get("/verify").says(t, "No key was made for this mill yet")
	m.withKey()
	keys, err := m.desk().LogKeys(t.Context())
	require.NoError(t, err)
	c, err := m.desk().Checkpoint(t.Context())
	require.NoError(t, err)
	require.NoError(t, m.server.checkpointRound(t.Context(), store.KeptInPassing))
	require.NoError(t, m.server.checkpointRound(t.Context(), store.KeptAtStop), "where nothing moved nothing is kept")
	kept, err := m.desk().KeptCheckpoints(t.Context(), 9)
	require.NoError(t, err)
	require.Len(t, kept, 1)
	page := rita.get("/verify")
	page.says(t, record.Fingerprint(keys[0].Verifier))
	page.says(t, "in passing")
	require.NotContains(t, page.Body, "Replace the key", "a supervisor's")

	agrees := rita.post("/verify/compare", url.Values{"text": {"kept on paper: " + "\n" + c.Text}})
	require.Contains(t, agrees.title(), "It agrees")
	agrees.says(t, "Signed with the key "+record.Fingerprint(keys[0].Verifier))
	longer := c.Head
	longer.Size += 5
	cut := rita.post("/verify/compare", url.Values{"text": {longer.Text()}})
	require.Contains(t, cut.title(), "Not everything that was kept agrees")
	cut.says(t, "letter by letter")
	mistyped := rita.post("/verify/compare", url.Values{"text": {strings.Replace(c.Text, c.Root.String()[:5], "AAAAA", 1)}})
	require.Contains(t, mistyped.title(), "be used: it says nothing about the record")
	mistyped.says(t, "Not used:")
	require.NotContains(t, mistyped.Body, "Ask when a backup was put back")
	nothing := rita.post("/verify/compare", url.Values{"text": {"hello"}})
	require.Equal(t, http.StatusUnprocessableEntity, nothing.Status)
	nothing.says(t, "hello")
}

func TestKeyIsReplacedOnThePageSignedAndWithAReason(t *testing.T) {
	t.Parallel()
	m := newMill(t)
	m.withKey()
	sam := m.as("sam")
	form := url.Values{"submission": {store.NewID()}, "reason": {"the PC is sold"}}
	require.Equal(t, http.StatusUnprocessableEntity, sam.post("/verify/key", form).Status, "not without signing")
	form.Set("pin", testSecrets["sam"])
	form.Set("reason", "")
	require.Equal(t, http.StatusUnprocessableEntity, sam.post("/verify/key", form).Status, "not without a reason")
	before := m.size()
	form.Set("reason", "the PC is sold")
	require.Equal(t, http.StatusForbidden, m.as("ada").post("/verify/key", form).Status)
	require.Equal(t, "/verify", sam.post("/verify/key", form).URL.Path)
	require.Equal(t, before+1, m.size())
	page := sam.get("/verify?done=new-key")
	page.says(t, "the PC is sold")
	page.says(t, "signed by two keys")
	sam.get("/record/"+itoa(before)).says(t, "Why: the PC is sold")
	require.Contains(t, sam.post("/verify", url.Values{}).title(), "The record is what was written")
}
