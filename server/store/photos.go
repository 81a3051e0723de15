package store

import (
	"context"
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"time"
)

// Photo is a picture as it is kept: already re-encoded and stripped of what the
// camera wrote beside it.
type Photo struct {
	Type          string
	Width, Height int
	Bytes         []byte
}

// Digest names a photo by its content.
func (p Photo) Digest() string {
	sum := sha256.Sum256(p.Bytes)
	return hex.EncodeToString(sum[:])
}

type photoRow struct {
	Mill   string `gorm:"primaryKey"`
	Digest string `gorm:"primaryKey"`
	Type   string
	Width  int
	Height int
	At     int64
	Bytes  []byte // none once it was dropped

	Size    int64 // of what was dropped
	Dropped int64 // entry that says it was, 0 for none
}

func (photoRow) TableName() string { return "photos" }

// ErrDropped is a photo that was dropped: by which entry, [Mill.PhotoDropped] tells.
var ErrDropped = errors.New("this photo is no longer kept")

// KeepPhoto stores p and returns its digest; the same picture is stored once. One
// that was dropped and is taken in again is kept again. It comes before the entry
// that names it.
func (m *Mill) KeepPhoto(ctx context.Context, p Photo, at time.Time) (string, error) {
	digest := p.Digest()
	err := m.s.writer.do(ctx, func(tx *Tx) error {
		return tx.gorm().Exec("INSERT INTO photos (mill, digest, type, width, height, at, bytes) VALUES (?, ?, ?, ?, ?, ?, ?) ON CONFLICT (mill, digest) DO UPDATE SET bytes = excluded.bytes, at = excluded.at, size = 0, dropped = 0 WHERE photos.dropped > 0",
			m.id, digest, p.Type, p.Width, p.Height, millis(at), p.Bytes).Error
	})
	return digest, err
}

// Photo loads a picture by its digest; ErrDropped where only that is kept.
func (m *Mill) Photo(ctx context.Context, digest string) (Photo, error) {
	row, err := one[photoRow](ctxReader{m, ctx}, "photo", "mill = ? AND digest = ?", m.id, digest)
	if err == nil && row.Dropped > 0 {
		return Photo{Type: row.Type, Width: row.Width, Height: row.Height}, ErrDropped
	}
	return Photo{Type: row.Type, Width: row.Width, Height: row.Height, Bytes: row.Bytes}, err
}
