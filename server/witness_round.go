package server

import (
	"context"
	"crypto/sha256"
	"errors"
	"fmt"
	"time"

	"stillsaw/checklists"
	"stillsaw/server/record"
	"stillsaw/server/store"
)

// witnessEvery is how often it is looked whether witnesses have something to get.
const witnessEvery = 5 * time.Minute

// witnessUntilStopped gives witnesses what they lack, again and again, until the
// server stops.
func (s *Server) witnessUntilStopped() {
	s.untilStopped(witnessEvery, "witnesses", s.witnessRound)
}

// witnessRound gives every witness that is on the present checkpoint, where the
// record is another than when it took the last. That one can't be reached, or does
// not agree, is no error of the round: it is kept with the witness.
func (s *Server) witnessRound(ctx context.Context) error {
	mill, err := s.store.TheMill(ctx)
	if errors.Is(err, store.ErrNotFound) {
		return nil
	}
	if err != nil {
		return err
	}
	desk := s.store.Of(mill.ID)
	witnesses, err := desk.Witnesses(ctx)
	if err != nil {
		return err
	}
	for _, w := range witnesses {
		if !w.On {
			continue
		}
		head, err := desk.Head(ctx)
		if err != nil {
			return err
		}
		if w.Answer.Good() && w.Took == head {
			continue
		}
		if err := s.giveWitness(ctx, mill, desk, w, false); err != nil {
			return err
		}
	}
	return nil
}

// giving is one witness being given the present checkpoint.
type giving struct {
	s    *Server
	mill checklists.Mill
	desk *store.Mill
	to   store.WitnessState
	now  time.Time
}

// giveWitness gives one witness the present checkpoint and keeps what came of it.
// at once is for one somebody asked for: a mail goes out although one went today.
func (s *Server) giveWitness(ctx context.Context, mill checklists.Mill, desk *store.Mill, w store.WitnessState, atOnce bool) error {
	s.witnessing.Lock()
	defer s.witnessing.Unlock()
	g := giving{s: s, mill: mill, desk: desk, to: w, now: s.now().UTC()}
	switch w.Kind {
	case checklists.WitnessFolder:
		return g.toFolder(ctx)
	case checklists.WitnessMail:
		return g.toMailbox(ctx, atOnce)
	case checklists.WitnessStillsaw:
		return g.toStillsaw(ctx)
	}
	return fmt.Errorf("a witness of the kind %q", w.Kind)
}

// answered keeps that a try came to something else than being taken.
func (g giving) answered(ctx context.Context, answer checklists.WitnessAnswer, why error) error {
	said := ""
	if why != nil {
		said = why.Error()
	}
	return g.desk.KeepWitnessAnswer(ctx, g.to.ID, answer, said, g.now)
}

// disagrees raises the alarm that what a witness holds is not what the record was.
func (g giving) disagrees(ctx context.Context, why checklists.AlarmWhy, held record.Head, heldText string, own record.Head) error {
	a := checklists.WitnessAlarm{Witness: g.to.ID, Kind: g.to.Kind, Why: why, HeldSize: held.Size, OwnSize: own.Size, OwnRoot: own.Root.String()}
	if held.Root != (record.Head{}).Root {
		a.HeldRoot = held.Root.String()
	}
	about := fmt.Sprintf("%s %s %d %x", g.to.ID, why, held.Size, sha256.Sum256([]byte(heldText)))
	if err := g.desk.RaiseWitnessAlarm(ctx, a, about, g.now); err != nil {
		return err
	}
	return g.answered(ctx, checklists.WitnessDisagrees, nil)
}
