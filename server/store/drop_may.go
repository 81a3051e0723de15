package store

import (
	"context"
	"time"

	"stillsaw/procedures"
)

// MayDrop tells whether anything an entry says may be dropped by that person now,
// as far as the entry itself goes: its error is the [plain.Refusal] of what keeps
// it. What repeats it elsewhere is looked at by [Mill.ShowDrop].
func (m *Mill) MayDrop(ctx context.Context, seq int64, by procedures.Person, now time.Time) error {
	r := ctxReader{m, ctx}
	own, err := one[millRow](r, "mill", "id = ?", m.id)
	if err != nil {
		return err
	}
	zone, err := own.Doc.LocationAt(now)
	if err != nil {
		return err
	}
	k, err := keepingOf(r, m.id, now)
	if err != nil {
		return err
	}
	row, openings, err := k.entry(seq)
	if err != nil {
		return err
	}
	return k.allows(row, openings, by, zone)
}
