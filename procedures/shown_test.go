package procedures

import (
	"slices"
	"strings"
)

// Shown is one clause of the tables of this package: the test that shows it with
// known answers, and the rules behind it, each with an act against it.
type Shown struct {
	Clause, Test string
	Rules        []string
	Refused      []func(without string) bool // of each rule: is its act refused, with that one left out
}

// ShownByRules returns the tables of the register and of training as one.
func ShownByRules() []Shown {
	var all []Shown
	for _, row := range append(registerClauses(), trainingClauses()...) {
		one := Shown{Clause: row.clause, Test: row.test}
		for _, b := range row.broken {
			one.Rules, one.Refused = append(one.Rules, b.name), append(one.Refused, b.refused)
		}
		all = append(all, one)
	}
	return all
}

// ServicingJobs returns each servicing job of a small circular mill with the
// tasks it has here and the procedures these go by.
func ServicingJobs() [][3]string {
	var jobs [][3]string
	for _, row := range servicingRows() {
		var tasks, by []string
		for _, id := range row.tasks {
			tasks = append(tasks, string(id))
		}
		everyMill(func(a Answers) {
			for _, task := range StarterTasks(StarterPlant(a), a) {
				if slices.Contains(row.tasks, task.ID) && !slices.Contains(by, string(task.Procedure)) {
					by = append(by, string(task.Procedure))
				}
			}
		})
		slices.Sort(by)
		jobs = append(jobs, [3]string{row.job, strings.Join(tasks, ", "), strings.Join(by, ", ")})
	}
	return jobs
}
