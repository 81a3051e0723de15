package lift

// Shape is how the volume of a piece is found.
type Shape uint8

// The shapes. Slabbed is a cant sawn on one to four faces with the round of
// the log left between them; Measured is anything whose volume is known.
const (
	ShapeUnknown Shape = iota
	Round
	Slabbed
	Squared
	Measured
)

func shapeNames() []string { return []string{"unknown", "round", "slabbed", "squared", "measured"} }

// String is the name ParseShape takes.
func (s Shape) String() string { return nameOf(shapeNames(), int(s)) }

// ParseShape reads round, slabbed (or cant), squared or measured.
func ParseShape(text string) (Shape, error) {
	if i, err := indexOf([]string{"unknown", "cant"}, text); err == nil && i == 1 {
		return Slabbed, nil
	}
	i, err := indexOf(shapeNames(), text)
	return Shape(i), err
}

// MarshalText writes the name, so that stored pieces outlive a reordering.
func (s Shape) MarshalText() ([]byte, error) { return []byte(s.String()), nil }

// UnmarshalText is ParseShape.
func (s *Shape) UnmarshalText(text []byte) (err error) {
	*s, err = ParseShape(string(text))
	return err
}

// Condition is how wet the wood is taken to be.
type Condition uint8

// The conditions. MeasuredMoisture needs a reading taken at depth; a meter on
// the surface of a thick piece says nothing about its core. Soaked is wood out
// of a pond or long under sprinklers, taken as full of water.
const (
	ConditionUnknown Condition = iota
	Green
	PartDry
	AirDry
	MeasuredMoisture
	Soaked
)

func conditionNames() []string {
	return []string{"unknown", "green", "part-dry", "air-dry", "measured", "soaked"}
}

// String is the name ParseCondition takes.
func (c Condition) String() string { return nameOf(conditionNames(), int(c)) }

// ParseCondition reads green, part-dry, air-dry, measured or soaked.
func ParseCondition(text string) (Condition, error) {
	i, err := indexOf(conditionNames(), text)
	return Condition(i), err
}

// MarshalText writes the name.
func (c Condition) MarshalText() ([]byte, error) { return []byte(c.String()), nil }

// UnmarshalText is ParseCondition.
func (c *Condition) UnmarshalText(text []byte) (err error) {
	*c, err = ParseCondition(string(text))
	return err
}
