//go:build cgo

package store

import (
	"gorm.io/driver/sqlite"
	"gorm.io/gorm"
)

// Engine names the SQLite driver this build uses.
const Engine = "SQLite through cgo"

func dialector(dsn string) gorm.Dialector { return sqlite.Open(dsn) }
