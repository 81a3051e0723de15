package record_test

import (
	"crypto/rand"
	"fmt"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"stillsaw/server/record"
)

// walked is shaped as the body of a signed inspection: an answer carries a type
// of the domain and makes three of its fields personal.
type walked struct {
	ID      string         `json:"id"`
	List    string         `json:"list"`
	Version int            `json:"version"`
	Title   string         `json:"title"`
	Answers []walkedAnswer `json:"answers"`
	Signer  string         `json:"signer"`
	Began   time.Time      `json:"began"`
	At      time.Time      `json:"at"`
	Late    bool           `json:"late"`
	Found   []walkedAnswer `json:"defects"`
	About   []string       `json:"equipment"`
}

type walkedAnswer struct {
	walkedPlain
	Text    record.Personal `json:"text"`
	Note    record.Personal `json:"note"`
	StopGap record.Personal `json:"stop_gap"`
}

type walkedPlain struct {
	Item     string    `json:"item"`
	Result   string    `json:"result"`
	Number   *float64  `json:"number"`
	Text     string    `json:"text"`
	Note     string    `json:"note"`
	Photo    string    `json:"photo"`
	Severity string    `json:"severity"`
	StopGap  string    `json:"stop_gap"`
	MendBy   time.Time `json:"mend_by"`
	By       string    `json:"by"`
	At       time.Time `json:"at"`
	Under    string    `json:"under"`
	Run      string    `json:"run"`

	Person   string `json:"person,omitzero"`
	Meter    string `json:"meter,omitzero"`
	Replaced bool   `json:"replaced,omitzero"`
}

func walkedBody(answers int) *walked {
	at := time.Date(2026, 3, 2, 12, 4, 5, 678_000_000, time.UTC)
	play := 0.25
	w := &walked{ID: "01970000-0000-7000-8000-000000000001", List: "01970000-0000-7000-8000-000000000002", Version: 3, Title: "Pre-shift check of the mill",
		Signer: "01970000-0000-7000-8000-000000000003", Began: at.Add(-20 * time.Minute), At: at}
	for i := range answers {
		a := walkedAnswer{walkedPlain: walkedPlain{Item: fmt.Sprintf("01970000-0000-7000-8000-%012x", 100+i), Result: "ok", By: w.Signer, At: at.Add(-time.Duration(answers-i) * time.Minute), Run: ""}}
		switch i % 10 {
		case 3:
			a.Number = &play
		case 6:
			a.Result, a.Severity, a.Note, a.MendBy = "defect", "mend", "latch bent, still shuts", at.Add(72*time.Hour)
		}
		w.Answers = append(w.Answers, a)
		w.About = append(w.About, fmt.Sprintf("machine-%d", i%6))
	}
	return w
}

func BenchmarkSealInspectionOf30Answers(b *testing.B) {
	body := walkedBody(30)
	b.ReportAllocs()
	for b.Loop() {
		sealed, err := record.Seal(envelope(0, body), rand.Reader)
		require.NoError(b, err)
		b.SetBytes(int64(len(sealed.Leaf)))
	}
}

func BenchmarkReadInspectionOf30Answers(b *testing.B) {
	sealed := seal(b, envelope(0, walkedBody(30)))
	b.ReportAllocs()
	for b.Loop() {
		_, err := record.Read(sealed.Leaf, sealed.Openings)
		require.NoError(b, err)
	}
}
