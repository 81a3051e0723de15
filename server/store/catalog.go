package store

import (
	"gorm.io/gorm"
)

// tablesIn are the names of the tables there are, without those that aren't a mill's:
// SQLite's own, and of a shared database who has which mill and the page across them.
func tablesIn(db *gorm.DB) (names []string, err error) {
	query := "SELECT name FROM sqlite_master WHERE type = 'table' AND name NOT LIKE 'sqlite\\_%' ESCAPE '\\' ORDER BY name"
	if onPostgres(db) {
		query = "SELECT tablename FROM pg_tables WHERE schemaname = current_schema() AND tablename <> 'tenants' AND tablename NOT LIKE 'group\\_%' ORDER BY tablename"
	}
	return names, db.Raw(query).Scan(&names).Error
}

// millColumn is the column of a table that says whose each row is; "" for the list of
// upgrades, whose rows are no mill's.
func millColumn(table string) string {
	switch table {
	case "migrations":
		return ""
	case "mills":
		return "id"
	}
	return "mill"
}

// hasTable tells whether there is a table of that name.
func hasTable(db *gorm.DB, name string) (bool, error) {
	query := "SELECT count(*) FROM sqlite_master WHERE type = 'table' AND name = ?"
	if onPostgres(db) {
		query = "SELECT count(*) FROM pg_tables WHERE schemaname = current_schema() AND tablename = ?"
	}
	var there int
	err := db.Raw(query, name).Scan(&there).Error
	return there > 0, err
}

// catalogColumn is a column of a table; PK is its place in the primary key from 1 on,
// 0 where it is in none.
type catalogColumn struct {
	Name string
	PK   int
}

// columnsIn are the columns of a table, those of the primary key first and in its
// order; none where there is no such table.
func columnsIn(db *gorm.DB, table string) (columns []catalogColumn, err error) {
	query := "SELECT name, pk FROM pragma_table_info(?) ORDER BY pk, cid"
	if onPostgres(db) {
		query = `SELECT a.attname AS name, coalesce(array_position(i.indkey::int2[], a.attnum), -1) + 1 AS pk
			FROM pg_attribute AS a LEFT JOIN pg_index AS i ON i.indrelid = a.attrelid AND i.indisprimary
			WHERE a.attrelid = to_regclass(quote_ident(?)) AND a.attnum > 0 AND NOT a.attisdropped ORDER BY pk, a.attnum`
	}
	return columns, db.Raw(query, table).Scan(&columns).Error
}
