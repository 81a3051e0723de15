package store

import (
	"errors"

	"gorm.io/gorm"
)

// ErrNotFound is an id nobody gave out at this mill.
var ErrNotFound = errors.New("there is nothing under that id")

// ErrChanged is a draft or state that somebody else changed meanwhile.
var ErrChanged = errors.New("somebody changed this meanwhile; look at it again, what you typed is still here")

// reader is a connection that reads: the pool, or a command's transaction.
type reader interface {
	gorm() *gorm.DB
	lasting() *lasting
}

func (tx *Tx) lasting() *lasting { return tx.kept }

func (tx *Tx) gorm() *gorm.DB { return tx.db.Session(&gorm.Session{NewDB: true}) }
