package procedures

import (
	"testing"
	"time"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"stillsaw/procedures/plain"
)

func anyPerson(id PersonID) *rapid.Generator[Person] {
	return rapid.Custom(func(t *rapid.T) Person {
		tick := func(label string) bool { return rapid.Bool().Draw(t, label) }
		return Person{ID: id, Name: rapid.SampledFrom([]string{"Ada Rook", "Bo Lind"}).Draw(t, "name"),
			Role: rapid.SampledFrom([]Role{"", Operator, Supervisor, Reader}).Draw(t, "role"), Deputy: tick("deputy"), Authorized: tick("authorized"),
			QualifiedElectrical: tick("electrical"), QualifiedLifting: tick("lifting"), Left: tick("left")}
	})
}

func TestDeputyKeepsPeopleWithinLimits(t *testing.T) {
	deputy := Person{ID: "dee", Name: "Dee", Role: Operator, Deputy: true, Authorized: true}
	supervisor, operator, reader := Person{ID: "sam", Name: "Sam", Role: Supervisor}, Person{ID: "ada", Name: "Ada", Role: Operator, Authorized: true}, Person{ID: "rita", Name: "Rita", Role: Reader}
	change := func(p Person, by func(*Person)) Person { by(&p); return p }
	nothing := func(*Person) {}
	for name, tc := range map[string]struct {
		before Person
		by     func(*Person)
		secret bool
		ok     bool
	}{
		"a new operator":              {Person{}, func(p *Person) { *p = Person{ID: "new", Name: "New", Role: Operator} }, true, true},
		"a new reader":                {Person{}, func(p *Person) { *p = Person{ID: "new", Name: "New", Role: Reader} }, true, false},
		"a new supervisor":            {Person{}, func(p *Person) { *p = Person{ID: "new", Name: "New", Role: Supervisor} }, true, false},
		"a new deputy":                {Person{}, func(p *Person) { *p = Person{ID: "new", Name: "New", Role: Operator, Deputy: true} }, true, false},
		"a new authorized operator":   {Person{}, func(p *Person) { *p = Person{ID: "new", Name: "New", Role: Operator, Authorized: true} }, true, false},
		"a new qualified electrician": {Person{}, func(p *Person) { *p = Person{ID: "new", Name: "New", Role: Operator, QualifiedElectrical: true} }, true, false},
		"a new qualified inspector":   {Person{}, func(p *Person) { *p = Person{ID: "new", Name: "New", Role: Operator, QualifiedLifting: true} }, true, false},
		"an operator's name":          {operator, func(p *Person) { p.Name = "Ada R." }, false, true},
		"an operator leaves":          {operator, func(p *Person) { p.Left = true }, false, true},
		"a reader leaves":             {reader, func(p *Person) { p.Left = true }, false, true},
		"an operator comes back":      {change(operator, func(p *Person) { p.Left = true }), func(p *Person) { p.Left = false }, false, false},
		"a name of one who has left":  {change(operator, func(p *Person) { p.Left = true }), func(p *Person) { p.Name = "Ada R." }, false, true},
		"an operator's PIN":           {operator, nothing, true, false},
		"an operator's role":          {operator, func(p *Person) { p.Role = Supervisor }, false, false},
		"a reader's role":             {reader, func(p *Person) { p.Role = Operator }, false, false},
		"an operator made deputy":     {operator, func(p *Person) { p.Deputy = true }, false, false},
		"authorization given":         {change(operator, func(p *Person) { p.Authorized = false }), func(p *Person) { p.Authorized = true }, false, false},
		"authorization taken":         {operator, func(p *Person) { p.Authorized = false }, false, false},
		"qualified electrically":      {operator, func(p *Person) { p.QualifiedElectrical = true }, false, false},
		"qualified for lifting":       {operator, func(p *Person) { p.QualifiedLifting = true }, false, false},
		"a supervisor's name":         {supervisor, func(p *Person) { p.Name = "Sammy" }, false, false},
		"a supervisor's password":     {supervisor, nothing, true, false},
		"a supervisor leaves":         {supervisor, func(p *Person) { p.Left = true }, false, false},
		"the own PIN":                 {deputy, nothing, true, true},
		"the own name":                {deputy, func(p *Person) { p.Name = "D." }, false, true},
		"the own role":                {deputy, func(p *Person) { p.Role, p.Deputy = Supervisor, false }, true, false},
		"the own deputy":              {deputy, func(p *Person) { p.Deputy = false }, false, false},
		"the own qualification":       {deputy, func(p *Person) { p.QualifiedLifting = true }, false, false},
	} {
		err := deputy.MayKeep(tc.before, change(tc.before, tc.by), tc.secret)
		if tc.ok {
			require.NoError(t, err, name)
			require.NoError(t, Person{ID: "sam", Role: Supervisor}.MayKeep(tc.before, change(tc.before, tc.by), tc.secret), name)
			continue
		}
		var refusal *plain.Refusal
		require.ErrorAs(t, err, &refusal, name)
		require.NoError(t, supervisor.MayKeep(tc.before, change(tc.before, tc.by), tc.secret), "a supervisor may: %s", name)
	}
}

// Whatever deputies do one after another, nobody supervises, locks out or
// inspects afterwards who did not before.
func TestNoDeputyGivesAnybodyMoreThanTheyHad(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		by, before, after := anyPerson("dee").Draw(t, "by"), anyPerson("ada").Draw(t, "before"), anyPerson("ada").Draw(t, "after")
		if by.Role == Supervisor || by.MayKeep(before, after, false) != nil {
			return
		}
		require.True(t, by.Supervises())
		require.Equal(t, before.Role, after.Role)
		require.Equal(t, before.Deputy, after.Deputy)
		require.Equal(t, before.Authorized, after.Authorized)
		require.Equal(t, before.QualifiedElectrical, after.QualifiedElectrical)
		require.Equal(t, before.QualifiedLifting, after.QualifiedLifting)
		require.False(t, after.Supervises() && !before.Supervises())
	})
}

func TestWhoSupervisesNothingKeepsNobody(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		by := anyPerson("bo").Draw(t, "by")
		if by.Supervises() {
			return
		}
		before := rapid.OneOf(rapid.Just(Person{}), anyPerson("ada"), anyPerson("bo")).Draw(t, "before")
		require.Error(t, by.MayKeep(before, anyPerson("ada").Draw(t, "after"), rapid.Bool().Draw(t, "secret")))
	})
}

// The same moment read back in another zone gives and takes nothing.
func TestDeputyChangesANameWhereAQualificationEndsInAnyZone(t *testing.T) {
	ends := time.Date(2027, 1, 1, 0, 0, 0, 0, time.FixedZone("", -12600))
	before := Person{ID: "ben", Name: "Ben", Role: Operator, QualifiedLifting: true, LiftingUntil: ends}
	after := before
	after.Name, after.LiftingUntil = "Benjamin", ends.In(time.FixedZone("", 34200))
	deputy := Person{ID: "dee", Role: Operator, Deputy: true}
	require.NoError(t, deputy.MayKeep(before, after, false))
	after.LiftingUntil = ends.Add(1)
	require.Error(t, deputy.MayKeep(before, after, false))
}
