package record_test

import (
	"encoding/hex"
	"errors"
	"testing"

	"github.com/stretchr/testify/require"
	"golang.org/x/mod/sumdb/tlog"
	"pgregory.net/rapid"

	"stillsaw/server/record"
)

// ctLeaves and ctRoots are the test data of the Certificate Transparency
// reference implementation (google/certificate-transparency, merkle_tree_test.cc;
// the same in transparency-dev/merkle, testonly/constants.go) for RFC 6962
// section 2.1: the root over the first n leaves.
func ctLeaves(t testing.TB) [][]byte {
	var leaves [][]byte
	for _, digits := range []string{"", "00", "10", "2021", "3031", "40414243", "5051525354555657", "606162636465666768696a6b6c6d6e6f"} {
		leaf, err := hex.DecodeString(digits)
		require.NoError(t, err)
		leaves = append(leaves, leaf)
	}
	return leaves
}

func ctRoots() []string {
	return []string{
		"e3b0c44298fc1c149afbf4c8996fb92427ae41e4649b934ca495991b7852b855",
		"6e340b9cffb37a989ca544e6bb780a2c78901d3fb33738768511a30617afa01d",
		"fac54203e7cc696cf0dfcb42c92a1d9dbaf70ad9e621f4bd8d98662f00e3c125",
		"aeb6bcfe274b70a14fb067a5e5578264db0fa9b51af5e0ba159158f329e06e77",
		"d37ee418976dd95753c1c73862b9398fa2a2cf9b4ff0fdfe8b30cd95209614b7",
		"4e3bbb1f7b478dcfe71fb631631519a3bca12c9aefca1612bfce4c13a86264d4",
		"76e67dadbcdf1e10e1b74ddc608abd2f98dfb16fbce75277b5232a127f2087ef",
		"ddb89be403809e325750d3d263cd78929c2942b7942a34b77e122c9594a74c8c",
		"5dc9da79a70659a9ad559cb701ded9a2ab9d823aad2f4960cfe370eff4604328",
	}
}

func TestRootsAreThoseOfRFC6962(t *testing.T) {
	stored := &kept{hashes: map[int64]tlog.Hash{}}
	var edge record.Frontier
	leaves := ctLeaves(t)
	for size, want := range ctRoots() {
		root, err := record.Root(int64(size), stored)
		require.NoError(t, err)
		require.Equal(t, want, hex.EncodeToString(root[:]), "Root, %d leaves", size)
		root = edge.Root()
		require.Equal(t, want, hex.EncodeToString(root[:]), "Frontier, %d leaves", size)
		if size == len(leaves) {
			break
		}
		hashes, err := record.Append(int64(size), leaves[size], stored)
		require.NoError(t, err)
		require.Equal(t, hashes, edge.Append(tlog.RecordHash(leaves[size])))
		for _, h := range hashes {
			stored.hashes[h.Index] = h.Hash
		}
	}
}

// Appending through a frontier, put back after failed batches and restored
// from storage at any time, is the same as tlog's tree from scratch.
func TestFrontierIsTheTree(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		stored := &kept{hashes: map[int64]tlog.Hash{}}
		var edge record.Frontier
		leaves := rapid.SliceOfN(rapid.SliceOfN(rapid.Byte(), 0, 3), 0, 70).Draw(t, "leaves")
		for n, leaf := range leaves {
			switch rapid.IntRange(0, 5).Draw(t, "before") {
			case 0:
				spare := edge
				spare.Append(tlog.Hash{1})
				spare.Append(tlog.Hash{2})
			case 1:
				restored, err := record.RestoreFrontier(edge.Head(mill), stored)
				require.NoError(t, err)
				require.Equal(t, edge.Head(mill), restored.Head(mill))
				edge = restored
			}
			want, err := record.Append(int64(n), leaf, stored)
			require.NoError(t, err)
			got := edge.Append(tlog.RecordHash(leaf))
			require.Equal(t, want, got)
			for _, h := range got {
				require.NotContains(t, stored.hashes, h.Index)
				stored.hashes[h.Index] = h.Hash
			}
		}
		require.Equal(t, int64(len(leaves)), edge.Size())
		require.Len(t, stored.hashes, int(tlog.StoredHashCount(edge.Size())))
		root, err := tlog.TreeHash(edge.Size(), stored)
		require.NoError(t, err)
		require.Equal(t, root, edge.Root())
		again, err := record.Root(edge.Size(), stored)
		require.NoError(t, err)
		require.Equal(t, root, again)
	})
}

func TestDamagedStorageIsAnErrorThatNamesWhat(t *testing.T) {
	k := log(t, 7)
	short := tlog.HashReaderFunc(func(indexes []int64) ([]tlog.Hash, error) { return nil, nil })
	broken := tlog.HashReaderFunc(func(indexes []int64) ([]tlog.Hash, error) { return nil, errors.New("disk I/O error") })
	for says, reader := range map[string]tlog.HashReader{"0 came back": short, "disk I/O error": broken, "no hash": &kept{}} {
		_, err := record.Append(7, nil, reader)
		require.ErrorContains(t, err, says)
		require.ErrorContains(t, err, "append entry 7: stored hashes [6 9 10]")
		_, err = record.Root(7, reader)
		require.ErrorContains(t, err, says)
		_, err = record.RestoreFrontier(k.head, reader)
		require.ErrorContains(t, err, says)
	}
	for _, size := range []int64{-1, 1 << 54} {
		_, err := record.Append(size, nil, k)
		require.Error(t, err)
		_, err = record.Root(size, k)
		require.Error(t, err)
		_, err = record.RestoreFrontier(record.Head{Mill: mill, Size: size}, k)
		require.Error(t, err)
	}
	spoil(k, 2)
	_, err := record.RestoreFrontier(k.head, k)
	require.NoError(t, err, "hash 2 is not on the edge of seven entries")
	spoil(k, 6)
	_, err = record.RestoreFrontier(k.head, k)
	require.ErrorContains(t, err, "the head says")
	spoil(k, 6)
	k.head.Root[5] ^= 1
	_, err = record.RestoreFrontier(k.head, k)
	require.ErrorContains(t, err, "the head says")
}

func TestHeadIsReadBackFromItsText(t *testing.T) {
	head := log(t, 3).head
	text := head.Text()
	require.Equal(t, "stillsaw/"+mill+"\n3\n"+head.Root.String()+"\n", text)
	got, err := record.ParseHead(text)
	require.NoError(t, err)
	require.Equal(t, head, got)
	for _, bad := range []string{
		"", text[1:], text + "\n", text[:len(text)-1], "stillsaw/\n3\n" + head.Root.String() + "\n",
		"stillsaw/a b\n3\n" + head.Root.String() + "\n", "stillsaw/a\n03\n" + head.Root.String() + "\n",
		"stillsaw/a\n-1\n" + head.Root.String() + "\n", "stillsaw/a\n3\n" + head.Root.String()[1:] + "\n",
	} {
		_, err := record.ParseHead(bad)
		require.Error(t, err, "%q", bad)
	}
}

func BenchmarkSealAndAppend(b *testing.B) {
	e := envelope(0, someBody())
	var edge record.Frontier
	random := &counting{}
	b.ReportAllocs()
	for b.Loop() {
		e.Seq = edge.Size()
		sealed, err := record.Seal(e, random)
		if err != nil {
			b.Fatal(err)
		}
		edge.Append(sealed.Hash)
	}
}

func BenchmarkVerify(b *testing.B) {
	k := log(b, 4096)
	b.ReportAllocs()
	for b.Loop() {
		if !k.verify().OK() {
			b.Fatal("not clean")
		}
	}
	b.ReportMetric(float64(b.N*4096)/b.Elapsed().Seconds(), "entries/s")
}
