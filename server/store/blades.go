package store

import (
	"context"
	"errors"
	"time"

	"stillsaw/checklists"
	"stillsaw/procedures"
	"stillsaw/procedures/plain"
	"stillsaw/server/record"
)

type bladeRow struct {
	Mill   string `gorm:"primaryKey"`
	ID     string `gorm:"primaryKey"`
	Serial string
	Doc    checklists.Blade `gorm:"serializer:json"`
}

func (bladeRow) TableName() string { return "blades" }

type bladeActRow struct {
	Mill  string `gorm:"primaryKey"`
	ID    string `gorm:"primaryKey"`
	Blade string
	At    int64
	Doc   checklists.BladeAct `gorm:"serializer:json"`
}

func (bladeActRow) TableName() string { return "blade_acts" }

// bladeBody is a saw of the register as it is from now on.
type bladeBody struct {
	everywhere
	checklists.Blade
	Note record.Personal `json:"note"`
}

func (b *bladeBody) blade() checklists.Blade {
	blade := b.Blade
	blade.Note = string(b.Note)
	return blade
}

func (*bladeBody) kind() (string, int) { return KindBlade, 1 }

func (b *bladeBody) project(tx *Tx, e entry) error {
	blade := b.blade()
	return tx.put(&bladeRow{Mill: e.Mill, ID: string(blade.ID), Serial: blade.Serial, Doc: blade}, "serial", "doc")
}

// bladeActBody is one thing done with a saw, and the head saws of the mill it
// may have to do with.
type bladeActBody struct {
	checklists.BladeAct
	Who       record.Personal          `json:"who"`
	Note      record.Personal          `json:"note"`
	Equipment []procedures.EquipmentID `json:"equipment"`
}

func (b *bladeActBody) done() checklists.BladeAct {
	a := b.BladeAct
	a.Who, a.Note = string(b.Who), string(b.Note)
	return a
}

func (*bladeActBody) kind() (string, int) { return KindBladeAct, 1 }

func (b *bladeActBody) about() []procedures.EquipmentID { return b.Equipment }

func (b *bladeActBody) project(tx *Tx, e entry) error {
	a := b.done()
	return tx.add(&bladeActRow{Mill: e.Mill, ID: a.ID, Blade: string(a.Blade), At: millis(e.At), Doc: a})
}

// KeepBlade enters a saw, or what changed about one; a new one has no id. seen is
// the [Mark] of the saw the form was filled in against. Its error is what
// [checklists.Blade.Keep] refuses, ErrNotFound, or ErrChanged.
func (m *Mill) KeepBlade(ctx context.Context, submission, seen string, b checklists.Blade, by procedures.Person, at time.Time) (checklists.BladeID, error) {
	id, err := m.do(ctx, submission, "blade", at, func(tx *Tx, at time.Time) (string, error) {
		if err := tx.ofAge(m.id, by, at, procedures.HeadSaw); err != nil {
			return "", err
		}
		register, _, err := blades(tx, m.id)
		if err != nil {
			return "", err
		}
		var before checklists.Blade
		if b.ID == "" {
			b.ID = checklists.BladeID(NewID())
		} else {
			row, err := one[bladeRow](tx, "saw", "mill = ? AND id = ?", m.id, b.ID)
			if err != nil {
				return "", err
			}
			if before = row.Doc; Mark(before) != seen {
				return "", ErrChanged
			}
		}
		kept, err := b.Keep(before, by, register, at)
		if err != nil {
			return "", err
		}
		_, err = tx.append(m.id, act{Actor: by.ID, At: at, Subject: string(kept.ID)}, &bladeBody{Blade: kept, Note: record.Personal(kept.Note)})
		return string(kept.ID), err
	})
	return checklists.BladeID(id), err
}

// BladeDone enters that something was done with a saw. Its error is what
// [checklists.BladeStanding.Enter] refuses, or ErrNotFound.
func (m *Mill) BladeDone(ctx context.Context, submission string, a checklists.BladeAct, by procedures.Person, at time.Time) error {
	_, err := m.do(ctx, submission, "blade-act", at, func(tx *Tx, at time.Time) (string, error) {
		if err := tx.ofAge(m.id, by, at, procedures.HeadSaw); err != nil {
			return "", err
		}
		register, acts, err := blades(tx, m.id)
		if err != nil {
			return "", err
		}
		mill, err := tx.Mill(m.id)
		if err != nil {
			return "", err
		}
		equipment, err := plant(tx, m.id)
		if err != nil {
			return "", err
		}
		all := checklists.Blades(register, acts)
		for _, s := range all {
			if s.ID != a.Blade {
				continue
			}
			kept, err := s.Enter(a, by, all, mill.SetUp.SpindleSpeed, at)
			if err != nil {
				return "", err
			}
			kept.ID = NewID()
			body := &bladeActBody{BladeAct: kept, Who: record.Personal(kept.Who), Note: record.Personal(kept.Note)}
			for _, e := range equipment {
				if e.Kind == procedures.HeadSaw {
					body.Equipment = append(body.Equipment, e.ID)
				}
			}
			_, err = tx.append(m.id, act{Actor: by.ID, At: at, Happened: kept.On, Subject: string(kept.Blade)}, body)
			return kept.ID, err
		}
		return "", ErrNotFound
	})
	return err
}

// Blades lists the saw register, by serial number, with everything done.
func (m *Mill) Blades(ctx context.Context) ([]checklists.BladeStanding, error) {
	register, acts, err := blades(ctxReader{m, ctx}, m.id)
	return checklists.Blades(register, acts), err
}

func blades(r reader, mill checklists.MillID) ([]checklists.Blade, []checklists.BladeAct, error) {
	var rows []bladeRow
	if err := r.gorm().Order("serial, id").Find(&rows, "mill = ?", mill).Error; err != nil {
		return nil, nil, err
	}
	var acts []bladeActRow
	if err := r.gorm().Order("at, id").Find(&acts, "mill = ?", mill).Error; err != nil {
		return nil, nil, err
	}
	register, done := make([]checklists.Blade, len(rows)), make([]checklists.BladeAct, len(acts))
	for i := range rows {
		register[i] = rows[i].Doc
	}
	for i := range acts {
		done[i] = acts[i].Doc
	}
	return register, done, nil
}

// ofAge asks whether the law lets by work at equipment of these kinds, of none:
// at the mill as a whole. Its error is what [procedures.MinorRule.May] refuses.
func (tx *Tx) ofAge(mill checklists.MillID, by procedures.Person, at time.Time, kinds ...procedures.EquipmentKind) error {
	if !by.UnderAge(at) {
		return nil
	}
	rule, err := tx.minorRule(mill)
	if err != nil {
		return err
	}
	if len(kinds) == 0 {
		kinds = []procedures.EquipmentKind{procedures.Site}
	}
	for _, kind := range kinds {
		if err := rule.May(by, kind, at); err != nil {
			return err
		}
	}
	return nil
}

// ofAgeFor is ofAge for pieces of equipment by their ids.
func (tx *Tx) ofAgeFor(mill checklists.MillID, by procedures.Person, at time.Time, on ...procedures.EquipmentID) error {
	if !by.UnderAge(at) {
		return nil
	}
	equipment, err := plant(tx, mill)
	if err != nil {
		return err
	}
	var kinds []procedures.EquipmentKind
	for _, id := range on {
		e, _ := equipment.Find(id)
		kinds = append(kinds, e.Kind)
	}
	return tx.ofAge(mill, by, at, kinds...)
}

func (tx *Tx) minorRule(mill checklists.MillID) (procedures.MinorRule, error) {
	about, err := tx.Mill(mill)
	if err != nil {
		return procedures.MinorRule{}, err
	}
	written, err := program(tx, mill)
	return about.MinorRule(written), err
}

// AllowMinors enters that by has signed that the law of the mill lets people
// under 18 work at the machines, or that it no longer does so. It is refused
// where the law itself bars them, and to anybody but a supervisor.
func (m *Mill) AllowMinors(ctx context.Context, submission string, allowed bool, by procedures.Person, at time.Time) error {
	_, err := m.do(ctx, submission, "minors", at, func(tx *Tx, at time.Time) (string, error) {
		rule, err := tx.minorRule(m.id)
		if err != nil {
			return "", err
		}
		switch {
		case by.Role != procedures.Supervisor || !by.Supervises():
			return "", plain.Refuse("", "Only a supervisor signs what the law lets people under 18 do.")
		case allowed && rule.Settled():
			return "", plain.Refuse(rule.Clause(procedures.Site), "The law this mill works under bars people under 18. Nobody here can allow it.")
		case allowed && rule.Law == "":
			return "", errors.New("a mill without a law")
		}
		mill, err := tx.Mill(m.id)
		if err != nil {
			return "", err
		}
		mill.MinorsAllowed = allowed
		_, err = tx.append(m.id, act{Actor: by.ID, At: at, Subject: string(m.id)}, newMillBody(mill))
		return string(m.id), err
	})
	return err
}
