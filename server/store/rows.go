package store

import (
	"database/sql"
	"errors"
	"fmt"

	"gorm.io/gorm/clause"

	"stillsaw/checklists"
	"stillsaw/procedures"
)

// Rows as they stand in the tables. They never leave this package.

type millRow struct {
	ID   string `gorm:"primaryKey"`
	Name string
	Doc  checklists.Mill `gorm:"serializer:json"`
}

func (millRow) TableName() string { return "mills" }

type personRow struct {
	Mill string `gorm:"primaryKey"`
	ID   string `gorm:"primaryKey"`
	Name string
	Doc  procedures.Person `gorm:"serializer:json"`
}

func (personRow) TableName() string { return "people" }

type equipmentRow struct {
	Mill     string `gorm:"primaryKey"`
	ID       string `gorm:"primaryKey"`
	Position int
	Doc      procedures.Equipment `gorm:"serializer:json"`
}

func (equipmentRow) TableName() string { return "equipment" }

type publicationRow struct {
	Mill    string `gorm:"primaryKey"`
	Sort    string `gorm:"primaryKey"`
	ID      string `gorm:"primaryKey"`
	Version int    `gorm:"primaryKey"`
	Title   string
	Actor   string
	At      int64
	Doc     string
}

func (publicationRow) TableName() string { return "publications" }

type draftRow struct {
	Mill     string `gorm:"primaryKey"`
	Sort     string `gorm:"primaryKey"`
	ID       string `gorm:"primaryKey"`
	Title    string
	Revision int
	At       int64
	Doc      string
}

func (draftRow) TableName() string { return "drafts" }

type inspectionRow struct {
	Mill   string `gorm:"primaryKey"`
	ID     string `gorm:"primaryKey"`
	List   string
	Signer string
	At     int64
	Seq    int64
	Doc    checklists.Inspection `gorm:"serializer:json"`

	// For who asks for many, without their answers.
	Version int
	Began   int64
	Late    bool
	Day     string // local date
}

func (inspectionRow) TableName() string { return "inspections" }

type amendmentRow struct {
	Mill       string `gorm:"primaryKey"`
	ID         string `gorm:"primaryKey"`
	Inspection string
	At         int64
	Doc        checklists.Amendment `gorm:"serializer:json"`
}

func (amendmentRow) TableName() string { return "amendments" }

type walkRow struct {
	Mill    string `gorm:"primaryKey"`
	ID      string `gorm:"primaryKey"`
	List    string
	Version int
	Person  string
	Began   int64
}

func (walkRow) TableName() string { return "walks" }

type walkAnswerRow struct {
	Mill  string `gorm:"primaryKey"`
	Walk  string `gorm:"primaryKey"`
	Item  string `gorm:"primaryKey"`
	Found bool
	Doc   checklists.Answer `gorm:"serializer:json"`
}

func (walkAnswerRow) TableName() string { return "walk_answers" }

// putWalked keeps an answer of a walk under way.
func (tx *Tx) putWalked(mill, walk string, a checklists.Answer) error {
	return tx.put(&walkAnswerRow{Mill: mill, Walk: walk, Item: string(a.Item), Found: a.Result == checklists.Found, Doc: a}, "found", "doc")
}

type defectRow struct {
	Mill      string `gorm:"primaryKey"`
	ID        string `gorm:"primaryKey"`
	Equipment string
	Open      bool
	At        int64
	Doc       checklists.Defect `gorm:"serializer:json"`
}

func (defectRow) TableName() string { return "defects" }

type departureRow struct {
	Mill      string `gorm:"primaryKey"`
	ID        string `gorm:"primaryKey"`
	Equipment string
	Open      bool
	At        int64
	Doc       checklists.Departure `gorm:"serializer:json"`
}

func (departureRow) TableName() string { return "departures" }

type runCheckRow struct {
	Mill   string `gorm:"primaryKey"`
	ID     string `gorm:"primaryKey"`
	Person string
	Until  int64
	Doc    checklists.RunCheck `gorm:"serializer:json"`
}

func (runCheckRow) TableName() string { return "run_checks" }

type lockoutRow struct {
	Mill      string `gorm:"primaryKey"`
	ID        string `gorm:"primaryKey"`
	Procedure string
	Open      bool
	At        int64
	Doc       procedures.Lockout       `gorm:"serializer:json"`
	Ended     int64                    // 0 while it is open
	Holds     []procedures.EquipmentID `gorm:"serializer:json"` // what may not run while it is open
}

func (lockoutRow) TableName() string { return "lockouts" }

type submissionRow struct {
	Mill   string `gorm:"primaryKey"`
	ID     string `gorm:"primaryKey"`
	Act    string
	Result string
	At     int64
}

func (submissionRow) TableName() string { return "submissions" }

// add creates row, whose key is not there yet.
func (tx *Tx) add(row any) error {
	if tx.ahead != nil {
		return tx.ahead.row(row, "")
	}
	return tx.db.Create(row).Error
}

// put creates row, or where its key is there already sets the named columns.
func (tx *Tx) put(row any, columns ...string) error {
	if tx.ahead != nil {
		return tx.ahead.row(row, setting(keysOf(row), columns))
	}
	conflict := clause.OnConflict{DoUpdates: clause.AssignmentColumns(columns)}
	for _, key := range keysOf(row) {
		conflict.Columns = append(conflict.Columns, clause.Column{Name: key})
	}
	return tx.db.Clauses(conflict).Create(row).Error
}

// keysOf names a row's primary key; the rows that put writes are few enough to
// say them out.
func keysOf(row any) []string {
	switch row.(type) {
	case *lighterRow:
		return []string{"mill", "kind", "condition"}
	case *millRow:
		return []string{"id"}
	case *keepPolicyRow:
		return []string{"mill", "sort"}
	case *draftRow:
		return []string{"mill", "sort", "id"}
	case *walkAnswerRow:
		return []string{"mill", "walk", "item"}
	case *walkSaveRow:
		return []string{"mill", "walk", "item", "person"}
	case *cosignatureRow:
		return []string{"mill", "witness", "size"}
	case *declarationRow:
		return []string{"mill", "equipment"}
	case *credentialRow, *mailRecipientRow, *settingsRow:
		return []string{"mill", "person"}
	case *programRow, *emergencyCardRow, *mailSettingsRow, *mailSecretRow:
		return []string{"mill"}
	}
	return []string{"mill", "id"}
}

// eachRow calls take for each row and closes rows.
func eachRow(rows *sql.Rows, take func() error) (err error) {
	defer func() { err = errors.Join(err, rows.Close()) }()
	for rows.Next() {
		if err := take(); err != nil {
			return err
		}
	}
	return rows.Err()
}

// rowsAtOnce is how many rows one statement inserts at most.
const rowsAtOnce = 100

// createAll inserts rows, of which there may be none; Create itself refuses that.
func createAll[R any](tx *Tx, rows []R) error {
	switch {
	case len(rows) == 0:
		return nil
	case tx.ahead != nil:
		for i := range rows {
			if err := tx.ahead.row(&rows[i], ""); err != nil {
				return err
			}
		}
		return nil
	}
	return tx.db.CreateInBatches(rows, rowsAtOnce).Error
}

// one loads the single row that the condition names into a fresh value; when
// there is none the error is ErrNotFound with what was looked for.
func one[R any](r reader, what string, query string, args ...any) (R, error) {
	var row R
	found := r.gorm().Limit(1).Where(query, args...).Find(&row)
	if found.Error != nil {
		return row, found.Error
	}
	if found.RowsAffected == 0 {
		return row, fmt.Errorf("%s: %w", what, ErrNotFound)
	}
	return row, nil
}
