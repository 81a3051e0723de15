package server

import "hash/maphash"

// turns lets one try at a time through for each person. Two people may by chance
// share a turn; then one waits a little for the other.
type turns struct {
	seed  maphash.Seed
	gates [64]chan struct{}
}

func newTurns() *turns {
	t := &turns{seed: maphash.MakeSeed()}
	for i := range t.gates {
		t.gates[i] = make(chan struct{}, 1)
	}
	return t
}

// of is the gate of a person: send to enter, receive to leave.
func (t *turns) of(mill, person string) chan struct{} {
	return t.gates[maphash.Comparable(t.seed, [2]string{mill, person})%uint64(len(t.gates))]
}
