package store

import (
	"database/sql"
	"fmt"
	"strings"

	"stillsaw/checklists"
	"stillsaw/server/record"
)

// entryPage is a page of a mill's entries in order, and of what was written the
// openings, of entries that aren't there too. It is read past the layer that would
// look at each field, into the same memory if it is read again.
type entryPage struct {
	rows     []entryRow
	openings []record.Opening
	of       []int64 // the entry of each opening

	leaves []byte // each with the salts of where nothing was written
	salts  []byte // of openings
	ends   []int
	known  texts
	lines  map[string][]string // blank_paths taken apart
	packs  *bool               // whether the database packs blanks
}

// read reads the page from a place on.
func (p *entryPage) read(r reader, mill checklists.MillID, from int64, most int) error {
	if p.known == nil {
		p.known, p.lines = texts{}, map[string][]string{}
	}
	p.openings, p.of, p.leaves, p.salts = p.openings[:0], p.of[:0], p.leaves[:0], p.salts[:0]
	if err := p.entries(r, mill, from, most); err != nil || len(p.rows) == 0 {
		return err
	}
	return p.shown(r, mill, from, p.rows[len(p.rows)-1].Seq)
}

func (p *entryPage) entries(r reader, mill checklists.MillID, from int64, most int) error {
	if p.packs == nil {
		packs, err := packsBlanks(r)
		if err != nil {
			return err
		}
		p.packs = &packs
	}
	packed := "blank_paths, blank_salts"
	if !*p.packs {
		packed = "'', ''"
	}
	p.rows, p.ends = p.rows[:0], p.ends[:0]
	var id, kind, subject, actor, day, leaf, paths, salts sql.RawBytes
	var n [6]number
	to := []any{&n[0].value, &id, &kind, &n[1].value, &subject, &actor, &n[2].value, &n[3].value, &n[4].value, &n[5].value, &day, &leaf, &paths, &salts}
	err := scanned(r, to, func() error {
		row := entryRow{Mill: string(mill), ID: string(id), Kind: p.known.of(kind), Subject: p.known.of(subject), Actor: p.known.of(actor), Day: p.known.of(day), BlankPaths: p.known.of(paths)}
		var version, offset, happenedOffset int64
		if err := wholes(n[:], &row.Seq, &version, &row.At, &offset, &row.Happened, &happenedOffset); err != nil {
			return err
		}
		row.Version, row.AtOffset, row.HappenedOffset = int(version), int(offset), int(happenedOffset)
		p.leaves = append(append(p.leaves, leaf...), salts...)
		p.ends = append(p.ends, len(p.leaves)-len(salts), len(p.leaves))
		p.rows = append(p.rows, row)
		return nil
	}, "SELECT seq, id, kind, version, subject, actor, at, at_offset, happened, happened_offset, day, leaf, "+packed+
		" FROM entries WHERE mill = ? AND seq >= ? ORDER BY seq LIMIT ?", mill, from, most)
	start := 0
	for i := range p.rows {
		leaf, salts := p.ends[2*i], p.ends[2*i+1]
		p.rows[i].Leaf, p.rows[i].BlankSalts = p.leaves[start:leaf:leaf], p.leaves[leaf:salts:salts]
		start = salts
	}
	return err
}

// shown reads the openings of the entries from one to another.
func (p *entryPage) shown(r reader, mill checklists.MillID, from, until int64) error {
	var path, salt, value sql.RawBytes
	var seq number
	p.ends = p.ends[:0]
	err := scanned(r, []any{&seq.value, &path, &salt, &value}, func() error {
		of, err := seq.whole()
		p.of = append(p.of, of)
		p.salts = append(p.salts, salt...)
		p.ends = append(p.ends, len(p.salts))
		p.openings = append(p.openings, record.Opening{Path: p.known.of(path), Value: p.known.of(value)})
		return err
	}, "SELECT seq, path, salt, value FROM openings WHERE mill = ? AND seq BETWEEN ? AND ? ORDER BY seq, path", mill, from, until)
	start := 0
	for i := range p.openings {
		p.openings[i].Salt = p.salts[start:p.ends[i]:p.ends[i]]
		start = p.ends[i]
	}
	return err
}

// blanksOf are the places of an entry where nothing was written.
func (p *entryPage) blanksOf(row entryRow) blanks {
	if row.BlankPaths == "" {
		return blanksIn("", row.BlankSalts)
	}
	paths, known := p.lines[row.BlankPaths]
	if !known {
		if len(p.lines) >= 1<<10 {
			clear(p.lines)
		}
		paths = strings.Split(row.BlankPaths, "\n")
		p.lines[row.BlankPaths] = paths
	}
	return blanks{paths, row.BlankSalts}
}

// texts keeps one of each text that comes again and again.
type texts map[string]string

func (t texts) of(raw []byte) string {
	if len(raw) == 0 {
		return ""
	}
	text, known := t[string(raw)]
	if !known {
		if len(t) >= 1<<12 {
			clear(t)
		}
		text = string(raw)
		t[text] = text
	}
	return text
}

// scanned calls take for each row of a query, read into to.
func scanned(r reader, to []any, take func() error, query string, args ...any) error {
	rows, err := r.gorm().Raw(query, args...).Rows()
	if err != nil {
		return err
	}
	return eachRow(rows, func() error {
		if err := rows.Scan(to...); err != nil {
			return err
		}
		return take()
	})
}

// number is a value that a column of whole numbers should have: scanned as it
// comes, since each would else be written as text and read back.
type number struct{ value any }

func (n *number) whole() (int64, error) {
	value, ok := n.value.(int64)
	if !ok {
		return 0, fmt.Errorf("%v stands where a whole number should", n.value)
	}
	return value, nil
}

func wholes(from []number, to ...*int64) (err error) {
	for i := range from {
		if *to[i], err = from[i].whole(); err != nil {
			return err
		}
	}
	return nil
}
