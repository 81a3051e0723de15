package store

import (
	"maps"
	"regexp"
	"slices"

	"stillsaw/procedures/plain"
)

// brought is what a step of the upgrades brings: whole tables, and columns of tables
// that were there. Tests hold it against what SQLite then has.
type brought struct {
	tables  []string
	columns map[string][]string // by table
}

var (
	makesTable  = regexp.MustCompile(`(?m)^CREATE TABLE (\w+)`)
	makesColumn = regexp.MustCompile(`(?m)^ALTER TABLE (\w+) ADD COLUMN (\w+)`)
)

func (m migration) makes() brought {
	all := brought{columns: map[string][]string{}}
	for _, found := range makesTable.FindAllStringSubmatch(m.sql, -1) {
		all.tables = append(all.tables, found[1])
	}
	for _, found := range makesColumn.FindAllStringSubmatch(m.sql, -1) {
		all.columns[found[1]] = append(all.columns[found[1]], found[2])
	}
	return all
}

// schemaAt says what a database has at a step, and what it has not yet: the list
// of steps it says it had is a table like any other, and may be lied in.
type schemaAt struct {
	step  int
	has   []string
	later brought
}

func schemaOf(step int) (schemaAt, error) {
	all, err := migrations()
	at := schemaAt{step: step, later: brought{columns: map[string][]string{}}}
	for _, m := range all {
		makes := m.makes()
		if m.number <= step {
			at.has = append(at.has, makes.tables...)
			continue
		}
		at.later.tables = append(at.later.tables, makes.tables...)
		for table, columns := range makes.columns {
			at.later.columns[table] = append(at.later.columns[table], columns...)
		}
	}
	return at, err
}

// schemaIn is schemaOf the step the database r reads says it is at.
func schemaIn(r reader) (schemaAt, error) {
	var step int
	if err := r.gorm().Raw("SELECT coalesce(max(number), 0) FROM migrations").Scan(&step).Error; err != nil {
		return schemaAt{}, err
	}
	return schemaOf(step)
}

// schemaFaults says what the database r reads lacks of the steps it says it had,
// and what it has that only comes with later ones.
func schemaFaults(r reader) ([]plain.Sentence, error) {
	at, err := schemaIn(r)
	if err != nil {
		return nil, err
	}
	tables, err := tablesIn(r.gorm())
	if err != nil {
		return nil, err
	}
	var faults []plain.Sentence
	for _, table := range at.has {
		if !slices.Contains(tables, table) {
			faults = append(faults, plain.Say("The table %[1]s is not there, and this database had the upgrade that makes it (it says step %[2]d).", table, at.step))
		}
	}
	for _, table := range at.later.tables {
		if slices.Contains(tables, table) {
			faults = append(faults, plain.Say("The table %[1]s is there, and this database says that it had no upgrade that makes it (step %[2]d).", table, at.step))
		}
	}
	for _, table := range slices.Sorted(maps.Keys(at.later.columns)) {
		shape, err := shapeOf(r, table)
		if err != nil {
			return nil, err
		}
		for _, column := range at.later.columns[table] {
			if slices.Contains(shape.columns, column) {
				faults = append(faults, plain.Say("The column %[1]s of the table %[2]s is there, and this database says that it had no upgrade that makes it (step %[3]d).", column, table, at.step))
			}
		}
	}
	return faults, nil
}
