package store

import (
	"context"
	"fmt"
	"path/filepath"

	"gorm.io/gorm"
)

// Diagnosis is what somebody who helps needs to know of a database: how much there
// is and whether it is whole, and nothing of what anybody entered. Sizes are in
// bytes.
type Diagnosis struct {
	Engine   string            `json:"engine"`
	Version  string            `json:"version"` // of SQLite
	Schema   Schema            `json:"schema"`
	Settings map[string]string `json:"settings"`
	Database int64             `json:"database"`
	Log      int64             `json:"log"`
	Free     int64             `json:"free"`   // of the database, to be filled again
	Faults   []string          `json:"faults"` // what SQLite's quick check says, "ok" where nothing
	Rows     map[string]int64  `json:"rows"`
	Entries  map[string]int64  `json:"entries"` // by kind
}

// faultsTold bounds what the quick check says.
const faultsTold = 20

// DiagnoseIn reads how the database in dir does. It writes nothing, and another
// process may have it open.
func DiagnoseIn(ctx context.Context, dir string) (d Diagnosis, err error) {
	d = Diagnosis{Engine: Engine, Settings: map[string]string{}, Rows: map[string]int64{}, Entries: map[string]int64{}}
	d.Schema, err = readIn(ctx, dir, func(db *gorm.DB, at Schema) error { return d.read(db, at) })
	if err != nil {
		return d, err
	}
	d.Database, d.Log, err = fileSizes(filepath.Join(dir, FileName))
	return d, err
}

func (d *Diagnosis) read(db *gorm.DB, at Schema) error {
	if err := db.Raw("SELECT sqlite_version()").Scan(&d.Version).Error; err != nil {
		return err
	}
	for _, name := range []string{"page_size", "page_count", "freelist_count", "journal_mode", "auto_vacuum", "encoding", "user_version", "application_id"} {
		var value string
		if err := db.Raw("PRAGMA " + name).Scan(&value).Error; err != nil {
			return err
		}
		d.Settings[name] = value
	}
	var free struct{ Free int64 }
	if err := db.Raw("SELECT freelist_count * page_size AS free FROM pragma_freelist_count, pragma_page_size").Scan(&free).Error; err != nil {
		return err
	}
	d.Free = free.Free
	if err := db.Raw(fmt.Sprintf("PRAGMA quick_check(%d)", faultsTold)).Scan(&d.Faults).Error; err != nil {
		return err
	}
	schema, err := schemaOf(at.Has)
	if err != nil {
		return err
	}
	for _, table := range schema.has {
		var rows int64
		if err := db.Table(table).Count(&rows).Error; err != nil {
			d.Faults = append(d.Faults, "table "+table+" can't be counted")
			continue
		}
		d.Rows[table] = rows
	}
	var kinds []struct {
		Kind  string
		Count int64
	}
	if err := db.Raw("SELECT kind, count(*) AS count FROM entries GROUP BY kind").Scan(&kinds).Error; err != nil {
		return err
	}
	for _, k := range kinds {
		d.Entries[k.Kind] = k.Count
	}
	return nil
}
