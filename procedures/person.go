package procedures

import "stillsaw/procedures/plain"

// PersonID names one person of a mill.
type PersonID string

// Role is what a person is at the mill in general. The zero value may do nothing.
type Role string

const (
	Operator   Role = "operator"
	Supervisor Role = "supervisor"
	Reader     Role = "reader" // sees, signs nothing: an inspector or insurer
)

// Person is somebody the record can name.
type Person struct {
	ID   PersonID `json:"id"`
	Name string   `json:"name"`
	Role Role     `json:"role"`

	// Deputy: an operator who acts as supervisor while the supervisor is away.
	Deputy bool `json:"deputy"`
	// Authorized: trained to lock out, 29 CFR 1910.147(b) "authorized employee".
	Authorized bool `json:"authorized"`
	// QualifiedElectrical may prove absence of voltage with a meter.
	QualifiedElectrical bool `json:"qualified_electrical"`
	// QualifiedLifting may inspect lifting gear and word its return to service, 29 CFR 1910.265(c)(24)(iii).
	QualifiedLifting bool `json:"qualified_lifting"`
	// Left the mill: signs nothing more; what was signed keeps the name.
	Left bool `json:"left"`
}

// Supervises tells whether p may do what a supervisor does.
func (p Person) Supervises() bool {
	return !p.Left && (p.Role == Supervisor || p.Role == Operator && p.Deputy)
}

// Works tells whether p may check, lift and report mending: everybody on the
// crew who has not left.
func (p Person) Works() bool {
	return !p.Left && (p.Role == Operator || p.Role == Supervisor)
}

// Validate returns nil or a [plain.Problems] for the fields "name", "role",
// "deputy" and "authorized".
func (p Person) Validate() error {
	var bad plain.Problems
	bad.Unless(!blank(p.Name) && len(p.Name) <= longestName, "name", "a name, as the crew knows it")
	bad.Unless(p.Role == Operator || p.Role == Supervisor || p.Role == Reader, "role", "operator, supervisor or reader")
	bad.Unless(!p.Deputy || p.Role == Operator, "deputy", "only for an operator: a supervisor needs no such word, and a reader signs nothing")
	bad.Unless(!p.Authorized || p.Role != Reader, "authorized", "only for somebody of the crew: a reader signs nothing")
	return bad.Err()
}
