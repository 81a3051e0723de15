//go:build cgo

package store

import (
	"errors"

	"github.com/mattn/go-sqlite3"
	"gorm.io/driver/sqlite"
	"gorm.io/gorm"
)

// Engine names the SQLite driver this build uses.
const Engine = "SQLite through cgo"

func dialector(dsn string) gorm.Dialector { return sqlite.Open(dsn) }

func resultOfBuild(err error) (code int, known bool) {
	var failed sqlite3.Error
	if errors.As(err, &failed) {
		return int(failed.ExtendedCode), true
	}
	return 0, false
}
