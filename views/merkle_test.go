package views

import (
	"context"
	"crypto/sha256"
	"encoding/json"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"testing"
	"time"

	"github.com/chromedp/chromedp"
	"github.com/stretchr/testify/require"
	"golang.org/x/mod/sumdb/tlog"
)

// known is one question to merkle.js with the answer of package tlog.
type known struct {
	Older, Newer, Index int64
	OlderRoot, Root     string
	Leaf                string
	Included, Goes      []string
}

// knownTrees are proofs of package tlog, an implementation of RFC 6962 that is
// not ours, for every pair of sizes up to 20 and a place in each.
func knownTrees(t *testing.T) []known {
	t.Helper()
	stored := []tlog.Hash{}
	read := tlog.HashReaderFunc(func(places []int64) ([]tlog.Hash, error) {
		var hashes []tlog.Hash
		for _, place := range places {
			hashes = append(hashes, stored[place])
		}
		return hashes, nil
	})
	text := func(hashes []tlog.Hash) []string {
		all := []string{}
		for _, h := range hashes {
			all = append(all, h.String())
		}
		return all
	}
	roots := []string{tlog.Hash(sha256.Sum256(nil)).String()}
	var all []known
	for size := int64(1); size <= 20; size++ {
		hashes, err := tlog.StoredHashes(size-1, fmt.Append(nil, "leaf ", size-1), read)
		require.NoError(t, err)
		stored = append(stored, hashes...)
		root, err := tlog.TreeHash(size, read)
		require.NoError(t, err)
		roots = append(roots, root.String())
		for older := int64(1); older <= size; older++ {
			k := known{Older: older, Newer: size, Index: older - 1, OlderRoot: roots[older], Root: root.String(), Leaf: fmt.Sprint("leaf ", older-1)}
			in, err := tlog.ProveRecord(size, older-1, read)
			require.NoError(t, err)
			goes, err := tlog.ProveTree(size, older, read)
			require.NoError(t, err)
			k.Included, k.Goes = text(in), text(goes)
			all = append(all, k)
		}
	}
	return all
}

// browse starts a browser for a test; without one on this machine there is
// nothing to run scripts in.
func browse(t *testing.T) context.Context {
	t.Helper()
	if testing.Short() {
		t.Skip("starts a browser")
	}
	if _, err := exec.LookPath("chromium"); err != nil {
		require.Empty(t, os.Getenv("CI"), "CI must have a browser")
		t.Skip("no chromium on this machine")
	}
	ctx, stop := chromedp.NewExecAllocator(t.Context(), append(chromedp.DefaultExecAllocatorOptions[:], chromedp.NoSandbox, chromedp.ExecPath("chromium"))...)
	t.Cleanup(stop)
	ctx, leave := chromedp.NewContext(ctx)
	t.Cleanup(leave)
	require.NoError(t, chromedp.Do(ctx))
	ctx, late := context.WithTimeout(ctx, time.Minute)
	t.Cleanup(late)
	return ctx
}

// askMerkle answers with what merkle.js gets wrong. Each proof is also asked for
// with one hash turned, left out and put in twice, and must fail then.
const askMerkle = `(known => {
  const wrong = [], raw = (list) => list.map(merkle.fromBase64), bytes = merkle.fromBase64;
  const spoilt = (proof) => proof.flatMap((hash, i) => {
    const turned = [...proof]; turned[i] = hash.map((b, j) => j === 7 ? b ^ 1 : b);
    return [turned, proof.filter((_, j) => j !== i), [...proof.slice(0, i), hash, ...proof.slice(i)]];
  });
  for (const k of known) {
    const leaf = merkle.leaf(merkle.utf8(k.Leaf)), root = bytes(k.Root), older = bytes(k.OlderRoot);
    const lies = (proof, index = k.Index) => merkle.included(proof, k.Newer, root, index, leaf);
    const goes = (proof, from = k.Older) => merkle.consistent(from, older, k.Newer, root, proof);
    if (!lies(raw(k.Included))) wrong.push("not included " + k.Index + " of " + k.Newer);
    if (!goes(raw(k.Goes))) wrong.push("not consistent " + k.Older + " to " + k.Newer);
    if (spoilt(raw(k.Included)).some((p) => lies(p)) || lies(raw(k.Included), k.Index + 1)) wrong.push("included wrongly " + k.Index + " of " + k.Newer);
    if (spoilt(raw(k.Goes)).some((p) => goes(p)) || k.Older < k.Newer && goes(raw(k.Goes), k.Older + 1)) wrong.push("consistent wrongly " + k.Older + " to " + k.Newer);
  }
  const hex = (text) => merkle.toHex(merkle.sha256(merkle.utf8(text)));
  // FIPS 180-4 examples (NIST, SHA256.pdf): "abc" and the message of two blocks; the million a's of FIPS 180-2.
  if (hex("abc") !== "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad") wrong.push("abc");
  if (hex("abcdbcdecdefdefgefghfghighijhijkijkljklmklmnlmnomnopnopq") !== "248d6a61d20638b8e5c026930c3e6039a33ce45964ff2167f6ecedd419db06c1") wrong.push("two blocks");
  const h = new merkle.Hasher(), piece = merkle.utf8("a".repeat(997));
  for (let left = 1000000; left > 0; left -= 997) h.add(piece.subarray(0, Math.min(left, 997)));
  if (merkle.toHex(h.sum()) !== "cdc76e5c9914fb9281a1c7e284d73e67f1809a48a497200e046d39ccc7112cd0") wrong.push("a million a");
  for (const text of ["QQ=", "QR==", "QQ==\n", " QQ==", "QQ", "QUI", "é"]) if (merkle.fromBase64(text) !== null) wrong.push("base64 " + JSON.stringify(text));
  if (merkle.toHex(merkle.fromBase64("QUJD")) !== "414243" || merkle.fromBase64("").length !== 0) wrong.push("base64");
  return wrong;
})(%s)`

func TestMerkleScriptAgreesWithTlog(t *testing.T) {
	script, err := staticFiles.ReadFile("static/merkle.js")
	require.NoError(t, err)
	questions, err := json.Marshal(knownTrees(t))
	require.NoError(t, err)
	page := filepath.Join(t.TempDir(), "empty.html")
	require.NoError(t, os.WriteFile(page, []byte("<!doctype html><title>x</title>"), 0o600))
	ctx := browse(t)
	require.NoError(t, chromedp.Do(ctx, chromedp.Navigate("file://"+page)))
	wrong, err := chromedp.Run(ctx, chromedp.Evaluate[[]string](string(script)+"\n"+fmt.Sprintf(askMerkle, questions)))
	require.NoError(t, err)
	require.Empty(t, wrong)
}
