package lift

import "time"

// Kind is what a link of the load path is.
type Kind uint8

// The kinds. Beam is whatever holds the hoist: beam, jib or frame. Fitting is
// any joining part: master link, shackle, swivel.
const (
	KindUnknown Kind = iota
	Beam
	Trolley
	Hoist
	HoistHook
	Yoke
	Leg
	EndHook
	Fitting
)

func kindNames() []string {
	return []string{"unknown", "beam", "trolley", "hoist", "hoist-hook", "yoke", "leg", "end-hook", "fitting"}
}

// String is the name ParseKind takes.
func (k Kind) String() string { return nameOf(kindNames(), int(k)) }

// ParseKind reads the name of a kind.
func ParseKind(text string) (Kind, error) {
	i, err := indexOf(kindNames(), text)
	return Kind(i), err
}

// MarshalText writes the name.
func (k Kind) MarshalText() ([]byte, error) { return []byte(k.String()), nil }

// UnmarshalText is ParseKind.
func (k *Kind) UnmarshalText(text []byte) (err error) {
	*k, err = ParseKind(string(text))
	return err
}

// State is whether a link may be used.
type State uint8

// The states. Destroyed gear is cut up and never comes back.
const (
	StateUnknown State = iota
	InService
	OutOfService
	Destroyed
)

func stateNames() []string { return []string{"unknown", "in-service", "out-of-service", "destroyed"} }

// String is the name ParseState takes.
func (s State) String() string { return nameOf(stateNames(), int(s)) }

// ParseState reads in-service, out-of-service or destroyed.
func ParseState(text string) (State, error) {
	i, err := indexOf(stateNames(), text)
	return State(i), err
}

// MarshalText writes the name.
func (s State) MarshalText() ([]byte, error) { return []byte(s.String()), nil }

// UnmarshalText is ParseState.
func (s *State) UnmarshalText(text []byte) (err error) {
	*s, err = ParseState(string(text))
	return err
}

// Link is one part the load hangs on. Masses are kilograms.
type Link struct {
	ID   string // the equipment's, where it is registered
	Name string
	Kind Kind
	// Pair: the entry stands for both legs or both end hooks under one tag.
	Pair bool
	// RatedLoad is as marked; 0 = unknown. Of a leg it holds for MarkedFor; of
	// a pair of end hooks for both together, used as the maker says.
	RatedLoad float64
	MarkedFor Column // legs only
	// ChokerLoad is the rated load of one leg in a choker hitch, as marked or by
	// the maker's sheet; 0 = unknown.
	ChokerLoad float64
	OwnMass    float64 // of the whole entry, added to the load of every link above; 0 = unknown

	Tag                      string
	TagReadable              bool
	Inspected, InspectionDue time.Time // zero = unknown
	// InspectedBy is who inspected it, as told by whoever entered the date.
	InspectedBy string `json:",omitzero"`
	State       State
	Grade       Grade     // legs only
	Size        ChainSize // chain legs only

	// IdleOwes is the inspection owed for having hung idle since IdleSince;
	// unknown where none is. [Rig.Idled] sets both.
	IdleSince time.Time `json:",omitzero"`
	IdleOwes  Every     `json:",omitzero"`
}

// legs is how many legs or end hooks the entry stands for.
func (l *Link) legs() int {
	if l.Pair {
		return 2
	}
	return 1
}

// oneLeg is what one leg of the entry bears pulled straight, in kg: never more
// than the mark, nor than the published table gives for the chain.
func (l *Link) oneLeg(hitch Hitch) float64 {
	turns := l.MarkedFor.pull()
	if turns == 0 {
		return 0
	}
	one := l.RatedLoad / turns
	if table, ok := ChainRating(l.Grade, l.Size, OneLeg); ok && table < one {
		one = table
	}
	if hitch == Choker {
		return min(one, l.ChokerLoad)
	}
	return one
}

// pair is what two evenly loaded legs bear together with the flatter of them at
// this angle, in kg: as oneLeg, and between the table's angles no more than the
// next lower one allows.
func (l *Link) pair(hitch Hitch, degrees float64) float64 {
	one, column := l.oneLeg(hitch), columnAt(degrees)
	most := one * column.pull()
	if column == OneLeg {
		most = 2 * one
	}
	if l.MarkedFor > OneLeg && l.RatedLoad < most {
		most = l.RatedLoad
	}
	if table, ok := ChainRating(l.Grade, l.Size, column); ok && column != OneLeg && table < most {
		return table
	}
	return most
}
