package lift

// BelowMean tells whether what was learned brings the upper weight of such wood
// below the published mean, so that only a supervisor's signature lets it: a
// log of it a foot through is weighed with the signature and without.
func (l Learned) BelowMean(kind Species, condition Condition) bool {
	p := Piece{Shape: Round, Species: kind, Condition: condition, Moisture: airDryMoisture, Large: 0.3, Learned: l}
	if !kind.known() || l.N == 0 || l.Kind != kind.Scientific || l.Condition != condition {
		return false
	}
	p.Learned.Signed = false
	held := p.densities(&Weight{}).weighed
	p.Learned.Signed = true
	return p.densities(&Weight{}).weighed < held
}

// SignedFor is what was learned with the signature that stands or doesn't.
func (l Learned) SignedFor(signed bool) Learned {
	l.Signed = signed && l.N > 0
	return l
}
