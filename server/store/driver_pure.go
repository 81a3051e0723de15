//go:build !cgo

package store

import (
	"gorm.io/driver/sqlite"
	"gorm.io/gorm"
	_ "modernc.org/sqlite" // registers the pure-Go driver as "sqlite"
)

// Engine names the SQLite driver this build uses.
const Engine = "SQLite in pure Go"

func dialector(dsn string) gorm.Dialector {
	return sqlite.Dialector{DriverName: "sqlite", DSN: dsn}
}

func resultOfBuild(error) (code int, known bool) { return 0, false }
