package lift

import (
	"math"

	"stillsaw/procedures/plain"
)

// WithHeaviestOf has one of the kinds a mill saws stand in for a kind nobody
// knows: the one of which this very piece is heaviest at its upper weight, as
// published or as the mill's own scale has shown, whichever is more. Which that
// is depends on how wet the wood is. A kind of which the piece can't be weighed,
// such as one that can't hold the water that was read, is taken before all
// others, so that [Weigh] says so and no lighter one covers it up. Without kinds
// the heaviest of the published table stands in. A piece whose kind is known is
// returned as it is.
func (p Piece) WithHeaviestOf(kinds []Species, learned []Learned) Piece {
	if p.Species != (Species{}) {
		return p
	}
	p.Fallback, p.Learned = Species{}, Learned{}
	heaviest, most := p, plain.Kilograms(math.Inf(-1))
	consider := func(as Piece) {
		upper := as.upperOrUnknown()
		if upper > most {
			heaviest, most = as, upper
		}
	}
	for _, kind := range kinds {
		as := p
		as.Fallback = kind
		consider(as)
		for _, as.Learned = range learned {
			if as.Learned.Kind == kind.Scientific && as.Learned.Condition == p.Condition && as.Learned.N > 0 {
				consider(as)
			}
		}
	}
	return heaviest
}

// upperOrUnknown is the upper weight, +Inf where it can't be worked out.
func (p Piece) upperOrUnknown() plain.Kilograms {
	w, err := Weigh(p)
	if err != nil {
		return plain.Kilograms(math.Inf(1))
	}
	return w.Upper
}
