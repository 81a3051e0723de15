// Package table is the record as comma-separated values, for a spreadsheet or
// another program: RFC 4180, UTF-8, lines ended by CR LF, a header row, one row
// an answer of an inspection and one row any other entry.
//
// Columns are stable: one keeps its name, place and meaning, a new one comes at
// the end. A text a spreadsheet could take for a formula stands behind an
// apostrophe, which [Read] takes off again; numbers are never touched.
package table

import "time"

// Row is one line. Times are to the millisecond, in the mill's zone as it then
// was; a zero one is none. What is nil or empty was not said.
type Row struct {
	Seq      int64
	Entry    string // id of the entry
	Kind     string
	Sort     string // [OfEntry] or [OfAnswer]
	At       time.Time
	Happened time.Time
	Late     bool // entered late
	ForShift bool // an inspection signed after its shift had started
	Phone    time.Time
	Skew     *float64 // seconds the phone's clock was ahead of the server's

	ActorID, Actor string
	Subject        string
	EquipmentIDs   string // separated by a blank
	Equipment      string // names, separated by a semicolon

	ListID, ListTitle string
	ListVersion       int64
	ItemID, ItemText  string
	Answer            string
	Reading           *float64
	Unit              string
	ReadingSI         *float64
	UnitSI            string
	Low, High         *float64 // in Unit
	Text              string
	Note              string
	Photo             string // digest

	Said     string // the entry in a sentence
	Withheld string // columns left empty on purpose, separated by a blank
	NotKept  string // columns whose value was dropped since, likewise
	Leaf     string // hash of the entry's leaf, base64
	Size     int64  // of the checkpoint
	Root     string // of the checkpoint, base64
	Amends   string // id of the inspection an amendment is to
	Of       int64  // how many rows the entry has
	Day      string // local date the entry is filed under
}

// What a row is of.
const (
	OfEntry  = "entry"
	OfAnswer = "answer"
)
