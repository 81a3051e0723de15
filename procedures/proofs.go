package procedures

// Proofs returns every proof, in the order a form offers them.
func Proofs() []Proof {
	return []Proof{Tick, TryStart, MarkStill, BlockIn, GaugeZero, HookEmpty, MeterDead}
}
