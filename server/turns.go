package server

import (
	"context"
	"hash/maphash"
	"time"

	"stillsaw/procedures"
	"stillsaw/server/store"
)

// turns lets one try at a time through for each person. Two people may by chance
// share a turn; then one waits a little for the other.
type turns struct {
	seed  maphash.Seed
	gates [64]*gate
}

func newTurns() *turns {
	t := &turns{seed: maphash.MakeSeed()}
	for i := range t.gates {
		t.gates[i] = &gate{turn: make(chan struct{}, 1)}
	}
	return t
}

// of is the gate of a person.
func (t *turns) of(mill, person string) *gate {
	return t.gates[maphash.Comparable(t.seed, [2]string{mill, person})%uint64(len(t.gates))]
}

// gate lets one through at a time.
type gate struct {
	turn chan struct{} // send to enter, receive to leave
	owed []owedTry     // of those in it
}

// owedTry is a wrong try that could not be counted.
type owedTry struct {
	desk    *store.Mill
	person  procedures.PersonID
	address string
	at      time.Time
}

func (o owedTry) count(ctx context.Context) error {
	return o.desk.WrongTry(ctx, o.person, o.address, tryLimits(), o.at)
}

// settle counts what is owed: nothing more is tried before that, so that a disk that
// is full gives nobody tries that are not counted.
func (g *gate) settle(ctx context.Context) error {
	for len(g.owed) > 0 {
		if err := g.owed[0].count(ctx); err != nil {
			return err
		}
		g.owed = g.owed[1:]
	}
	return nil
}

// wrong counts a try; one that can't be stays owed.
func (g *gate) wrong(ctx context.Context, o owedTry) error {
	err := o.count(ctx)
	if err != nil {
		g.owed = append(g.owed, o)
	}
	return err
}
