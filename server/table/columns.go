package table

import (
	"fmt"
	"strconv"
	"strings"
	"time"
)

// column is one column: its name, what stands in it, and how it is written and
// read back.
type column struct {
	name, about string
	write       func(*Row) string
	read        func(*Row, string) error
}

// Column names a column and says what stands in it.
type Column struct{ Name, About string }

// Columns lists the columns in their order.
func Columns() []Column {
	var all []Column
	for _, c := range columns() {
		all = append(all, Column{c.name, c.about})
	}
	return all
}

func columns() []column {
	return []column{
		whole("seq", "place of the entry in the record, from 0", func(r *Row) *int64 { return &r.Seq }),
		text("entry_id", "id of the entry", func(r *Row) *string { return &r.Entry }),
		text("kind", "kind of the entry, as it stands in the record", func(r *Row) *string { return &r.Kind }),
		text("row", "`answer` for an answer of an inspection or an amendment, `entry` for any other", func(r *Row) *string { return &r.Sort }),
		whole("rows", "how many rows the entry has", func(r *Row) *int64 { return &r.Of }),
		text("day", "local day the entry is filed under", func(r *Row) *string { return &r.Day }),
		utc("entered_utc", "server time of the entry, UTC", func(r *Row) *time.Time { return &r.At }),
		local("entered_local", "the same in the mill's zone with its offset", func(r *Row) *time.Time { return &r.At }),
		utc("happened_utc", "when it happened, UTC", func(r *Row) *time.Time { return &r.Happened }),
		local("happened_local", "the same in the mill's zone with its offset", func(r *Row) *time.Time { return &r.Happened }),
		yes("late", "`yes` where it was entered late: it happened, by what was entered, so long before that the screens say so", func(r *Row) *bool { return &r.Late }),
		local("phone_time", "the phone's clock with its offset, where it was kept", func(r *Row) *time.Time { return &r.Phone }),
		decimal("phone_skew_s", "seconds the phone's clock was ahead of the server's", func(r *Row) **float64 { return &r.Skew }),
		text("actor_id", "who did it", func(r *Row) *string { return &r.ActorID }),
		text("actor", "the name", func(r *Row) *string { return &r.Actor }),
		text("subject", "id of what it is about: an inspection, a defect, a lockout", func(r *Row) *string { return &r.Subject }),
		text("equipment_ids", "equipment it is about, separated by a blank", func(r *Row) *string { return &r.EquipmentIDs }),
		text("equipment", "the names, separated by a semicolon", func(r *Row) *string { return &r.Equipment }),
		text("list_id", "the list answered", func(r *Row) *string { return &r.ListID }),
		text("list", "its title", func(r *Row) *string { return &r.ListTitle }),
		whole("list_version", "its version", func(r *Row) *int64 { return &r.ListVersion }),
		text("amends", "id of the inspection an amendment is to", func(r *Row) *string { return &r.Amends }),
		text("item_id", "the item answered", func(r *Row) *string { return &r.ItemID }),
		text("item", "what it asks", func(r *Row) *string { return &r.ItemText }),
		text("answer", "`ok`, `defect` or `not-checked`; of a lift `go` or `no-go`", func(r *Row) *string { return &r.Answer }),
		decimal("reading", "the number read, in unit; of a lift its upper weight", func(r *Row) **float64 { return &r.Reading }),
		text("unit", "as the list or the mill has it", func(r *Row) *string { return &r.Unit }),
		decimal("reading_si", "the same in the SI unit, where the unit is known here", func(r *Row) **float64 { return &r.ReadingSI }),
		text("unit_si", "that unit", func(r *Row) *string { return &r.UnitSI }),
		decimal("low", "lower bound of the item, in unit", func(r *Row) **float64 { return &r.Low }),
		decimal("high", "upper bound, in unit", func(r *Row) **float64 { return &r.High }),
		text("text", "words answered: a serial number, a choice, the one named", func(r *Row) *string { return &r.Text }),
		text("note", "what was wrong, or why it was not checked", func(r *Row) *string { return &r.Note }),
		text("photo_sha256", "digest of the photo", func(r *Row) *string { return &r.Photo }),
		text("said", "the entry in a sentence", func(r *Row) *string { return &r.Said }),
		text("withheld", "columns left empty or marked in this file on purpose, separated by a blank", func(r *Row) *string { return &r.Withheld }),
		text("no_longer_kept", "columns whose value was dropped from the record since, separated by a blank", func(r *Row) *string { return &r.NotKept }),
		text("leaf_hash", "hash of the entry's leaf, base64", func(r *Row) *string { return &r.Leaf }),
		whole("checkpoint_size", "entries under the checkpoint of this file", func(r *Row) *int64 { return &r.Size }),
		text("checkpoint_root", "their root, base64", func(r *Row) *string { return &r.Root }),
		yes("late_for_shift", "`yes` where an inspection was signed after its shift had started, however soon it was entered", func(r *Row) *bool { return &r.ForShift }),
	}
}

func text(name, about string, of func(*Row) *string) column {
	return column{name, about, func(r *Row) string { return guarded(*of(r)) }, func(r *Row, cell string) error {
		*of(r) = unguarded(cell)
		return nil
	}}
}

// whole is a whole number, empty for 0 of what counts from 1.
func whole(name, about string, of func(*Row) *int64) column {
	return column{name, about, func(r *Row) string {
		if *of(r) == 0 && name != "seq" {
			return ""
		}
		return strconv.FormatInt(*of(r), 10)
	}, func(r *Row, cell string) (err error) {
		if cell != "" {
			*of(r), err = strconv.ParseInt(cell, 10, 64)
		}
		return err
	}}
}

// decimal is a number with a point, never in the form with an exponent.
func decimal(name, about string, of func(*Row) **float64) column {
	return column{name, about, func(r *Row) string {
		if *of(r) == nil {
			return ""
		}
		return strconv.FormatFloat(**of(r), 'f', -1, 64)
	}, func(r *Row, cell string) error {
		if cell == "" {
			return nil
		}
		x, err := strconv.ParseFloat(cell, 64)
		if err == nil && strings.Trim(cell, "-.0123456789") != "" { // no infinity, exponent or other spelling
			err = fmt.Errorf("%.20q is no number with a point", cell)
		}
		*of(r) = &x
		return err
	}}
}

func yes(name, about string, of func(*Row) *bool) column {
	return column{name, about, func(r *Row) string {
		if *of(r) {
			return "yes"
		}
		return ""
	}, func(r *Row, cell string) error {
		*of(r) = cell == "yes"
		if cell != "" && cell != "yes" {
			return fmt.Errorf("%.20q is neither yes nor nothing", cell)
		}
		return nil
	}}
}

// How times are written: RFC 3339 to the millisecond.
const (
	utcLayout   = "2006-01-02T15:04:05.000Z"
	localLayout = "2006-01-02T15:04:05.000-07:00"
)

// local is a time with its offset.
func local(name, about string, of func(*Row) *time.Time) column {
	return column{name, about, func(r *Row) string {
		if of(r).IsZero() {
			return ""
		}
		return of(r).Format(localLayout)
	}, func(r *Row, cell string) (err error) {
		if cell != "" {
			*of(r), err = time.Parse(localLayout, cell)
		}
		return err
	}}
}

// utc is the same time again for who reckons with it; [local] brings the offset.
func utc(name, about string, of func(*Row) *time.Time) column {
	return column{name, about, func(r *Row) string {
		if of(r).IsZero() {
			return ""
		}
		return of(r).UTC().Format(utcLayout)
	}, func(r *Row, cell string) error {
		if cell == "" {
			return nil
		}
		at, err := time.Parse(utcLayout, cell)
		*of(r) = at
		return err
	}}
}
