package record_test

import (
	"encoding/json"
	"fmt"
	"iter"
	"slices"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
	"golang.org/x/mod/sumdb/tlog"

	"stillsaw/server/record"
)

const mill = "01970000-0000-7000-8000-0000000000aa"

// counting is randomness a test can foretell: 0, 1, 2, … 255, 0, …
type counting struct{ next byte }

func (c *counting) Read(p []byte) (int, error) {
	for i := range p {
		p[i] = c.next
		c.next++
	}
	return len(p), nil
}

type answer struct {
	Item   string           `json:"item"`
	Result string           `json:"result"`
	Note   record.Personal  `json:"note,omitempty"`
	Seen   *record.Personal `json:"seen,omitempty"`
	Photo  string           `json:"photo,omitempty"`
}

type place struct {
	Station string `json:"station"`
}

// inspected has a personal field in every position a body can have one.
type inspected struct {
	place
	List     string                     `json:"list"`
	By       record.Personal            `json:"by"`
	Answers  []answer                   `json:"answers"`
	Worst    *answer                    `json:"worst,omitempty"`
	Crew     map[string]record.Personal `json:"crew,omitempty"`
	Remarks  [2]record.Personal         `json:"remarks"`
	Free     any                        `json:"free"`
	Raw      json.RawMessage            `json:"raw,omitempty"`
	Reading  float64                    `json:"reading"`
	Count    int64                      `json:"count,omitzero"`
	Until    time.Time                  `json:"until,omitzero"`
	Thumb    []byte                     `json:"thumb"`
	Unsigned uint16
	Hidden   string `json:"-"`
	private  string
}

func someBody() inspected {
	seen := record.Personal("J. Doe")
	return inspected{
		place: place{"carriage"}, List: "pre-shift 3", By: "A. Sawyer",
		Answers: []answer{{Item: "dogs", Result: "OK"}, {Item: "a/b~c", Result: "Defect", Note: "bent <tip> & \"loose\"", Seen: &seen}},
		Crew:    map[string]record.Personal{"off/bearer": "Ä. Öre", "helper": ""},
		Free:    map[string]any{"sealed": "sha256:" + fmt.Sprintf("%064d", 0), "n": 1.5},
		Reading: 0.1, Count: 3, Until: time.Date(2026, 3, 2, 7, 0, 0, 0, time.UTC), Thumb: []byte{1, 2}, Unsigned: 7,
		Hidden: "not kept", private: "nor this",
	}
}

func envelope(seq int64, body any) record.Envelope {
	at := time.Date(2026, 3, 2, 12, 4, 5, 678_000_000, time.UTC).Add(time.Duration(seq) * time.Minute)
	return record.Envelope{
		Mill: mill, Seq: seq, ID: fmt.Sprintf("01970000-0000-7000-8000-%012x", seq),
		Kind: "inspection", Version: 1, Subject: "carriage-1", Actor: "person-7",
		At: at, Offset: -300, Happened: at.Add(-time.Hour), HappenedOffset: -300, Body: body,
	}
}

func seal(t testing.TB, e record.Envelope) record.Sealed {
	t.Helper()
	sealed, err := record.Seal(e, &counting{})
	require.NoError(t, err)
	return sealed
}

// kept is a small log as a database would hold it.
type kept struct {
	head   record.Head
	rows   []record.Row
	hashes map[int64]tlog.Hash
}

func (k *kept) ReadHashes(indexes []int64) ([]tlog.Hash, error) {
	found := make([]tlog.Hash, len(indexes))
	for i, index := range indexes {
		hash, ok := k.hashes[index]
		if !ok {
			return nil, fmt.Errorf("no hash %d", index)
		}
		found[i] = hash
	}
	return found, nil
}

func (k *kept) all() iter.Seq2[record.Row, error] {
	return func(yield func(record.Row, error) bool) {
		for _, row := range k.rows {
			if !yield(row, nil) {
				return
			}
		}
	}
}

func (k *kept) verify() record.Report { return record.Verify(k.head, k.all(), k) }

// keyed is the body of an entry that names the key of its log.
type keyed struct {
	answer
	Verifier string `json:"verifier"`
}

// log makes a log of size entries, each with personal fields.
func log(t testing.TB, size int64) *kept { return logOf(t, size, "") }

// logOf is log where the first entry names a key.
func logOf(t testing.TB, size int64, verifier string) *kept {
	t.Helper()
	k := &kept{hashes: map[int64]tlog.Hash{}}
	var edge record.Frontier
	for seq := range size {
		said := answer{Item: fmt.Sprint("item ", seq), Result: "OK", Note: record.Personal(fmt.Sprint("note ", seq))}
		e := envelope(seq, said)
		if seq == 0 && verifier != "" {
			e = envelope(seq, keyed{said, verifier})
			e.Kind = record.KindLogKey
		}
		sealed := seal(t, e)
		for _, stored := range edge.Append(sealed.Hash) {
			k.hashes[stored.Index] = stored.Hash
		}
		k.rows = append(k.rows, record.Row{Seq: seq, Leaf: sealed.Leaf, Columns: e.Columns(), Openings: slices.Clone(sealed.Openings)})
	}
	k.head = edge.Head(mill)
	return k
}
