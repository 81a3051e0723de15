package store

// Kinds of entries of the saw register and the register of safety equipment.
const (
	KindBlade       = "blade"
	KindBladeAct    = "blade-act"
	KindSafetyItem  = "safety-item"
	KindSafetyCheck = "safety-check"
)

// registerBodyOf is bodyOf for these kinds, nil for any other.
func registerBodyOf(kind string) body {
	switch kind {
	case KindBlade:
		return &bladeBody{}
	case KindBladeAct:
		return &bladeActBody{}
	case KindSafetyItem:
		return &safetyItemBody{}
	case KindSafetyCheck:
		return &safetyCheckBody{}
	}
	return nil
}

// registerDomainOf is domainOf for the bodies of these kinds, nil for any other.
func registerDomainOf(b body) any {
	switch b := b.(type) {
	case *bladeBody:
		return b.blade()
	case *bladeActBody:
		return b.done()
	case *safetyItemBody:
		return b.SafetyItem
	case *safetyCheckBody:
		return b.check()
	}
	return nil
}
