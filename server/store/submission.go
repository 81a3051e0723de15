package store

import (
	"context"
	"errors"
	"fmt"
	"time"

	"stillsaw/checklists"
)

// do carries out a submission once, all in one savepoint, and answers a retry
// with the first result. run is given the time of the act: at, or the newest
// entry's where that one overtook it.
func (m *Mill) do(ctx context.Context, submission, name string, at time.Time, run func(*Tx, time.Time) (string, error)) (string, error) {
	if submission == "" {
		return "", errors.New("a submission without an id")
	}
	var answered string
	err := m.s.writer.do(ctx, func(tx *Tx) error {
		var act, first string
		err := straightRow(tx, "submission", "SELECT act, result FROM submissions WHERE mill = ? AND id = ?", []any{string(m.id), submission}, &act, &first)
		if err == nil {
			if act != name {
				return fmt.Errorf("submission %s was already used for another act (%s)", submission, act)
			}
			answered = first
			return nil
		}
		if !errors.Is(err, ErrNotFound) {
			return err
		}
		at, err := tx.inTurn(m, at)
		if err != nil {
			return err
		}
		result, err := run(tx, at)
		if err != nil {
			return err
		}
		answered = result
		return tx.carriedOut(m.id, submission, name, result, at)
	})
	if err != nil {
		return "", err // answered may still be written to by a command that outlives ctx
	}
	return answered, nil
}

// carriedOut keeps that a submission was, and its first result.
func (tx *Tx) carriedOut(mill checklists.MillID, submission, name, result string, at time.Time) error {
	return tx.insert("submissions (mill, id, act, result, at)", []any{string(mill), submission, name, result, millis(at)})
}

// Answered tells whether a submission was carried out before: what it says may no
// longer be true, and a retry is told the first result all the same.
func (m *Mill) Answered(ctx context.Context, submission string) (bool, error) {
	_, err := one[submissionRow](ctxReader{m, ctx}, "submission", "mill = ? AND id = ?", m.id, submission)
	if errors.Is(err, ErrNotFound) {
		return false, nil
	}
	return err == nil, err
}

// inTurn is the time of an act that asked at at and has its turn now, having
// waited for others, for a PIN to be checked, for a photo.
func (tx *Tx) inTurn(m *Mill, at time.Time) (time.Time, error) {
	head, err := tx.logHead(m.id)
	if errors.Is(err, ErrNotFound) {
		return at, nil
	}
	if last := timeOf(head.Last); err == nil && last.After(at) && last.Sub(at) <= checklists.ClockTolerance {
		return last, nil
	}
	return at, err
}
