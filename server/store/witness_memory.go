package store

import (
	"encoding/json"
	"errors"
	"fmt"
	"io/fs"
	"net/url"
	"os"
	"path/filepath"

	"golang.org/x/mod/sumdb/tlog"

	"stillsaw/server/record"
)

// cosigned is what was cosigned last of one record.
type cosigned struct {
	Size int64     `json:"size"`
	Root tlog.Hash `json:"root"`
}

// memory is what was cosigned last of each record, by origin. It lies beside the
// key that cosigns, and so outside every backup: a database put back has forgotten
// what it signed since, and would sign another record in its place.
type memory map[string]cosigned

func (m *Mill) memoryPath() string {
	return filepath.Join(m.s.keys.dir, url.PathEscape(string(m.id))+".cosigned")
}

// remembered reads the memory. One that can't be read is an error, so that nothing
// is signed against it; none at all is the memory of a witness that signed nothing.
func (m *Mill) remembered() (memory, error) {
	all := memory{}
	text, err := os.ReadFile(m.memoryPath())
	if errors.Is(err, fs.ErrNotExist) {
		return all, nil
	}
	if err == nil {
		err = json.Unmarshal(text, &all)
	}
	if err != nil {
		return nil, fmt.Errorf("what this witness signed last (%s) can't be read, so it signs nothing: %w", m.memoryPath(), Cause(err))
	}
	return all, nil
}

// keepCosigned keeps that head was cosigned, on the disk before it returns.
func (m *Mill) keepCosigned(all memory, head record.TreeHead) error {
	all[head.Origin] = cosigned{head.Size, head.Root}
	text, err := json.Marshal(all)
	if err != nil {
		return err
	}
	return m.s.keys.write(m.memoryPath(), string(text))
}

// since is what was seen of a record last: as the database has it or, where that
// is less, as the memory does.
func (all memory) since(seen record.TreeHead) record.TreeHead {
	if last, known := all[seen.Origin]; known && last.Size > seen.Size {
		seen.Size, seen.Root = last.Size, last.Root
	}
	return seen
}
