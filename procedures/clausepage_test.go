package procedures_test

import (
	"flag"
	"fmt"
	"go/ast"
	"go/parser"
	"go/token"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"stillsaw/procedures"
	"stillsaw/procedures/plain"
)

var update = flag.Bool("update", false, "write testdata/clauses/README.md anew")

const clausePage = "../testdata/clauses/README.md"

// shown is one clause with everything that stands behind it.
type shown struct {
	clause
	behind []behind
	tests  []string
}

// behind is one rule with an act against it: refused, and with the rule left out
// of a copy of the rules not refused any more.
type behind struct {
	rule    string
	refused func(t require.TestingT, without bool) bool
}

// refusing are the rules of lockouts and beginnings with their scenes, each a
// subtest of the test named beside it.
func refusing() (rules map[string][]behind, test map[string]string) {
	rules, test = map[string][]behind{}, map[string]string{}
	for _, row := range clauseRows() {
		test[row.rule] = "TestClauses"
		rules[row.rule] = append(rules[row.rule], behind{row.rule, func(t require.TestingT, without bool) bool {
			left := slices.Clone(row.also)
			if without {
				left = append(left, row.rule)
			}
			return row.tried(t, left...) != nil
		}})
	}
	for rule, row := range beginRows() {
		test[rule] = "TestClausesOfBeginning"
		rules[rule] = append(rules[rule], behind{rule, func(t require.TestingT, without bool) bool {
			b := beginning(t)
			open := row.spoil(&b)
			if without {
				_, _, err := b.BeginWithout(open, rule)
				return err != nil
			}
			_, _, err := b.Begin(open)
			return err != nil
		}})
	}
	return rules, test
}

// collected is the whole list with the tables of the package put in.
func collected() []shown {
	rules, tests := refusing()
	byRules := map[string][]procedures.Shown{}
	for _, one := range procedures.ShownByRules() {
		byRules[one.Clause] = append(byRules[one.Clause], one)
	}
	var all []shown
	for _, chapter := range clauseList() {
		for _, c := range chapter.rows {
			all = append(all, shown{clause: c, tests: slices.Clone(c.tests)})
		}
	}
	own := map[string]shown{}
	for i := range all {
		s := &all[i]
		for _, rule := range s.rules {
			s.behind, s.tests = append(s.behind, rules[rule]...), append(s.tests, tests[rule])
		}
		for _, one := range byRules[s.id] {
			s.tests = append(s.tests, one.Test)
			for n, rule := range one.Rules {
				refused := one.Refused[n]
				s.behind = append(s.behind, behind{rule, func(_ require.TestingT, without bool) bool {
					if without {
						return refused(rule)
					}
					return refused("")
				}})
			}
		}
		own[s.id] = shown{tests: slices.Clone(s.tests), behind: slices.Clone(s.behind)}
	}
	for i := range all {
		s := &all[i]
		for _, id := range s.like {
			s.behind, s.tests = append(s.behind, own[id].behind...), append(s.tests, own[id].tests...)
		}
		slices.Sort(s.tests)
		s.tests = slices.Compact(s.tests)
	}
	return all
}

// testsOf are the test functions of a folder of this repository.
func testsOf(t require.TestingT, folder string) []string {
	files, err := filepath.Glob("../" + folder + "/*_test.go")
	require.NoError(t, err)
	require.NotEmpty(t, files, folder)
	var names []string
	for _, file := range files {
		parsed, err := parser.ParseFile(token.NewFileSet(), file, nil, parser.SkipObjectResolution)
		require.NoError(t, err)
		for _, d := range parsed.Decls {
			if f, ok := d.(*ast.FuncDecl); ok && f.Recv == nil && strings.HasPrefix(f.Name.Name, "Test") {
				names = append(names, f.Name.Name)
			}
		}
	}
	return names
}

// A row that no test shows, or that names a test there isn't, fails here.
func TestEveryClauseHasATestThatExists(t *testing.T) {
	known := map[string][]string{}
	seen := map[string]bool{}
	exist := func(id string, tests []string) {
		require.NotEmpty(t, tests, id)
		for _, test := range tests {
			folder, name := "procedures", test
			if at := strings.LastIndexByte(test, '.'); at >= 0 {
				folder, name = test[:at], test[at+1:]
			}
			if known[folder] == nil {
				known[folder] = testsOf(t, folder)
			}
			require.Contains(t, known[folder], name, "%s names a test of %s", id, folder)
		}
	}
	for _, s := range collected() {
		require.False(t, seen[s.id], "%s stands twice", s.id)
		seen[s.id] = true
		require.True(t, s.asks != "" && s.how != "" && slices.Contains([]standing{enforced, recorded, outside}, s.standing), s.id)
		exist(s.id, s.tests)
	}
	for _, one := range besides() {
		exist(one.id, one.tests)
	}
	require.Len(t, seen, 117, "the clauses of 29 CFR 1910.147 (a) to (f) and its Appendix A, as listed here")
	for _, one := range procedures.ShownByRules() {
		require.True(t, seen[one.Clause], "%s isn't listed", one.Clause)
	}
}

// Disabling the rule behind an enforced clause lets through the very act its
// test says is refused: each rule of each row by itself.
func TestEachEnforcedClauseFailsWithoutItsRules(t *testing.T) {
	for _, s := range collected() {
		require.Equal(t, s.standing == recorded && len(s.behind) == 0, s.hand != "", "%s: a rule, or the change by hand that was seen to fail", s.id)
		if s.standing == enforced {
			require.NotEmpty(t, s.behind, s.id)
		}
		for _, b := range s.behind {
			require.True(t, b.refused(t, false), "%s: %s refuses", s.id, b.rule)
			require.False(t, b.refused(t, true), "%s: without %q it passes", s.id, b.rule)
		}
	}
}

// Every rule a lockout is folded by stands behind a clause, but for what only
// keeps a record in order.
func TestEveryRuleOfALockoutStandsBehindAClause(t *testing.T) {
	clauses := map[string]bool{procedures.InItsPlace: true, "work begins once": true, "until when it stays locked": true, "a later end than before": true, "photo where the step asks for one": true}
	for _, chapter := range clauseList() {
		for _, c := range chapter.rows {
			for _, rule := range c.rules {
				clauses[rule] = true
				require.Contains(t, procedures.EveryRule(), rule, c.id)
			}
		}
	}
	for _, rule := range procedures.EveryRule() {
		require.True(t, clauses[rule], "%q", rule)
	}
}

func TestClausePageIsWhatTheTestsGive(t *testing.T) {
	page := pageOfClauses()
	if *update {
		require.NoError(t, os.MkdirAll(filepath.Dir(clausePage), 0o755))
		require.NoError(t, os.WriteFile(clausePage, []byte(page), 0o644))
	}
	kept, err := os.ReadFile(clausePage)
	require.NoError(t, err)
	require.Equal(t, page, string(kept), "run go test ./procedures -run ClausePage -update")
}

func pageOfClauses() string {
	var b strings.Builder
	all := map[string]shown{}
	count := map[standing]int{}
	rules := map[string]bool{}
	for _, s := range collected() {
		all[s.id] = s
		count[s.standing]++
		for _, r := range s.behind {
			rules[r.rule] = true
		}
	}
	fmt.Fprintf(&b, `# Lockout, clause by clause

Written by a test from the code: run `+"`go test ./procedures -run ClausePage -update`"+` after a change.

Every clause of 29 CFR 1910.147 (a) to (f) and of its Appendix A, what it asks in
our own short words, and what Stillsaw does about it. Reference, not legal
advice: read the regulation itself, and your own law where it is another. A
record is not a lock.

%d clauses: %d **enforced** (what goes against it is refused), %d **recorded**
(kept, computed or shown, refused to nobody), %d **out of scope**, listed first.

%d rules stand behind them. *Left out, lets it through* names each rule of a row
that was left out of a copy of the rules, by itself: the act the row's test shows
as refused then passes (`+"`TestEachEnforcedClauseFailsWithoutItsRules`"+` does this for
every row each time the tests run). A row that is only recorded has no rule to
leave out where it says *by hand*: the change named was made to the code, and the
row's test failed.

Tests are those of `+"`procedures`"+` where no other folder is named. Beside them,
generated histories of up to six people on up to four linked machines hold the
invariants of a lockout; [DEVELOPERS.md](../../DEVELOPERS.md) has the figures.

## Out of scope, and why

`, len(all), count[enforced], count[recorded], count[outside], len(rules))
	for _, chapter := range clauseList() {
		for _, c := range chapter.rows {
			if c.standing == outside {
				fmt.Fprintf(&b, "- **%s** %s %s\n", c.id, c.asks, c.how)
			}
		}
	}
	b.WriteString("\nParts of clauses that are enforced otherwise:\n\n")
	for _, one := range outOfScope() {
		fmt.Fprintf(&b, "- **%s** %s\n", one[0], one[1])
	}
	for _, chapter := range clauseList() {
		fmt.Fprintf(&b, "\n## %s\n\n| clause | asks | here | how | left out, lets it through | tests |\n|---|---|---|---|---|---|\n", chapter.title)
		for _, c := range chapter.rows {
			all[c.id].line(&b)
		}
	}
	b.WriteString("\n## Over all clauses\n\n| what holds | tests |\n|---|---|\n")
	for _, one := range besides() {
		fmt.Fprintf(&b, "| %s | %s |\n", one.id, strings.Join(one.tests, ", "))
	}
	b.WriteString(`
## Servicing tasks a mill begins with

The jobs of a small circular mill (the list is common practice, no source) and
the tasks each has here, all servicing, each with its procedure.
` + "`TestStarterTasksLockWhatEachServicingJobNeeds`" + ` goes through every mill the set-up
can describe and asks that what the job must be locked off from is isolated or
blocked, and proven at zero.

| job | tasks | procedure |
|---|---|---|
`)
	for _, job := range procedures.ServicingJobs() {
		fmt.Fprintf(&b, "| %s | %s | %s |\n", job[0], job[1], job[2])
	}
	return b.String()
}

func (s shown) line(b *strings.Builder) {
	var rules []string
	for _, r := range s.behind {
		if !slices.Contains(rules, r.rule) {
			rules = append(rules, r.rule)
		}
	}
	said := strings.Join(rules, "; ")
	if s.hand != "" {
		said = "by hand: " + s.hand
	}
	fmt.Fprintf(b, "| %s | %s | %s | %s | %s | %s |\n", s.id, s.asks, s.standing, s.how, said, strings.Join(s.tests, ", "))
}

// refusal is err as one, with its clause as a row writes it.
func refusal(t require.TestingT, err error) (*plain.Refusal, string) {
	var refusal *plain.Refusal
	require.ErrorAs(t, err, &refusal)
	return refusal, strings.TrimPrefix(refusal.Clause, procedures.Clause(""))
}
