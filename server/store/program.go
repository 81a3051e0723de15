package store

import (
	"context"
	"errors"
	"time"

	"stillsaw/checklists"
	"stillsaw/procedures"
	"stillsaw/server/record"
)

type programRow struct {
	Mill string `gorm:"primaryKey"`
	At   int64
	Doc  procedures.Program `gorm:"serializer:json"`
}

func (programRow) TableName() string { return "programs" }

// programBody is the program with its sentences apart, which may name people. In
// entries from before that they stand in the same places in the clear.
type programBody struct {
	procedures.Program
	Purpose     record.Personal `json:"purpose"`
	Duty        record.Personal `json:"duty"`
	Scope       record.Personal `json:"scope"`
	Enforcement record.Personal `json:"enforcement"`
	AbsentOwner record.Personal `json:"absent_owner"`
	LockColour  record.Personal `json:"lock_colour"`
	TagStandard record.Personal `json:"tag_standard"`
}

func newProgramBody(p procedures.Program) *programBody {
	return &programBody{Program: p, Purpose: record.Personal(p.Purpose), Duty: record.Personal(p.Duty), Scope: record.Personal(p.Scope), Enforcement: record.Personal(p.Enforcement),
		AbsentOwner: record.Personal(p.AbsentOwner), LockColour: record.Personal(p.LockColour), TagStandard: record.Personal(p.TagStandard)}
}

func (b *programBody) program() procedures.Program {
	p := b.Program
	p.Purpose, p.Duty, p.Scope, p.Enforcement = string(b.Purpose), string(b.Duty), string(b.Scope), string(b.Enforcement)
	p.AbsentOwner, p.LockColour, p.TagStandard = string(b.AbsentOwner), string(b.LockColour), string(b.TagStandard)
	return p
}

func (*programBody) kind() (string, int) { return KindProgram, 1 }

func (b *programBody) about() []procedures.EquipmentID { return nil }

func (b *programBody) project(tx *Tx, e entry) error {
	return tx.put(&programRow{Mill: e.Mill, At: millis(b.At), Doc: b.program()}, "at", "doc")
}

// KeepProgram signs the mill's program of energy control. Its error is what
// [procedures.Program.Keep] refuses.
func (m *Mill) KeepProgram(ctx context.Context, submission string, p procedures.Program, by procedures.Person, at time.Time) error {
	return m.keepProgram(ctx, submission, p, by, at, func(procedures.Program) error { return nil })
}

// EditProgram is [Mill.KeepProgram], or ErrChanged when the program was changed
// since the form was shown.
func (m *Mill) EditProgram(ctx context.Context, submission, seen string, p procedures.Program, by procedures.Person, at time.Time) error {
	return m.keepProgram(ctx, submission, p, by, at, func(before procedures.Program) error {
		if Mark(before) != seen {
			return ErrChanged
		}
		return nil
	})
}

func (m *Mill) keepProgram(ctx context.Context, submission string, p procedures.Program, by procedures.Person, at time.Time, may func(procedures.Program) error) error {
	_, err := m.do(ctx, submission, "program", at, func(tx *Tx, at time.Time) (string, error) {
		before, err := program(tx, m.id)
		if err != nil {
			return "", err
		}
		if err := may(before); err != nil {
			return "", err
		}
		crew, err := people(tx, m.id)
		if err != nil {
			return "", err
		}
		equipment, err := plant(tx, m.id)
		if err != nil {
			return "", err
		}
		kept, err := p.Keep(by, crew, equipment, at)
		if err != nil {
			return "", err
		}
		_, err = tx.append(m.id, act{Actor: by.ID, At: at, Subject: string(m.id)}, newProgramBody(kept))
		return string(m.id), err
	})
	return err
}

// Program loads the mill's program, the zero one where nobody has said any.
func (m *Mill) Program(ctx context.Context) (procedures.Program, error) {
	return program(ctxReader{m, ctx}, m.id)
}

func program(r reader, mill checklists.MillID) (procedures.Program, error) {
	row, err := one[programRow](r, "program", "mill = ?", mill)
	if errors.Is(err, ErrNotFound) {
		return procedures.Program{}, nil
	}
	return row.Doc, err
}
