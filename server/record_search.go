package server

import (
	"context"
	"errors"
	"strings"
	"time"
	"unicode/utf8"

	"stillsaw/procedures/plain"
	"stillsaw/server/search"
	"stillsaw/server/store"
	"stillsaw/views"
)

// queryMost is how many bytes of what was typed are looked for.
const queryMost = 200

// searched is what came of looking for words.
type searched struct {
	Query   search.Query
	Further string           // address of where to look on, "" where all was looked at
	Notes   []plain.Sentence // what to know of it
}

// textsShown bounds the texts shown of one entry, and aroundHit the signs about
// each word found.
const (
	textsShown = 3
	aroundHit  = 120
)

// SearchField asks for words.
func (p recordPage) SearchField() views.Field {
	words, numbers := exampleDay(p.Frame)
	return p.TextField("q", p.T("Search the record"), p.Form.Q).WithHint(p.T("Words, names, tag numbers, a date: chain worn %[1]s, or %[2]s. In quotes exactly so.", words, numbers))
}

// Parts cuts text where it meets what was looked for.
func (p recordPage) Parts(text string) []search.Part {
	if p.Search == nil {
		return []search.Part{{Text: text}}
	}
	return p.Search.Query.Parts(text)
}

// search finds the entries that meet the query, and says what to know of it.
func (p *recordPage) search(v *visit, filter store.Filter) ([]store.FoundEntry, bool, error) {
	kinds, outcomes := lineWords(p.Frame)
	found, err := v.desk.Search(v.ctx(), store.Looking{Filter: filter, Query: p.Search.Query, Kinds: kinds, Outcomes: outcomes})
	if err != nil {
		return nil, false, err
	}
	for _, word := range found.Short {
		p.Search.Notes = append(p.Search.Notes, plain.Say("Very many words begin with “%s”. Only the word itself was looked for; write more of it.", word))
	}
	if found.Without > 0 {
		p.Search.Notes = append(p.Search.Notes, plain.Say("The %d oldest entries can't be found by words yet. Stillsaw is going through them.", found.Without))
	}
	if found.Further > 0 {
		p.Search.Notes = append(p.Search.Notes, plain.Say("What you look for is rare and its words are everywhere: only a part of the record was looked through so far."))
		place := "before"
		if filter.Newer {
			place = "after"
		}
		p.Search.Further = p.place(place, found.Further)
	}
	return found.Entries, found.More, nil
}

// queryOf reads what was typed, nil where nothing was.
func (p *recordPage) queryOf(reading search.Reading, problems *plain.Problems) *searched {
	text := p.Form.Q
	for len(text) > queryMost || !utf8.ValidString(text) {
		_, size := utf8.DecodeLastRuneInString(text)
		text = text[:len(text)-size]
	}
	if text == "" {
		return nil
	}
	s := &searched{Query: reading.Parse(text)}
	problems.Unless(!s.Query.Empty(), "q", "a word, a number or a date to look for")
	return s
}

// Hits are the texts of an entry that were met and that its sentence doesn't say,
// each cut to what stands about the first word found.
func (s *searched) Hits(texts []string, said string) []string {
	var hits []string
	for _, text := range texts {
		if strings.Contains(said, text) || len(hits) == textsShown || !s.Query.Hits(text) {
			continue
		}
		before := 0
		for _, part := range s.Query.Parts(text) {
			if part.Hit {
				break
			}
			before += len(part.Text)
		}
		hits = append(hits, around(text, before))
	}
	return hits
}

// around is text about a place in it, with a mark where it was cut.
func around(text string, at int) string {
	start, end := max(at-aroundHit, 0), min(at+aroundHit, len(text))
	for start > 0 && !utf8.RuneStart(text[start]) {
		start--
	}
	for end < len(text) && !utf8.RuneStart(text[end]) {
		end++
	}
	cut := text[start:end]
	if start > 0 {
		cut = "… " + cut
	}
	if end < len(text) {
		cut += " …"
	}
	return cut
}

// fillEvery is the rest between two steps of giving words to old entries, so that
// whoever signs meanwhile has the writer most of the time.
const fillEvery = 50 * time.Millisecond

// fillSearch gives words to the entries an earlier Stillsaw wrote, until all have
// them or the server stops.
func (s *Server) fillSearch() {
	again := time.NewTicker(fillEvery)
	defer again.Stop()
	for {
		left, err := s.fillStep(s.stopping)
		if err != nil && s.stopping.Err() == nil {
			s.log.Error("words of old entries", "error", err)
		}
		if err != nil || left == 0 {
			return
		}
		select {
		case <-s.stopping.Done():
			return
		case <-again.C:
		}
	}
}

func (s *Server) fillStep(ctx context.Context) (left int64, err error) {
	mill, err := s.store.TheMill(ctx)
	if errors.Is(err, store.ErrNotFound) {
		return 0, nil
	}
	if err != nil {
		return 0, err
	}
	return s.store.Of(mill.ID).FillSearch(ctx)
}
