package store

import (
	"context"
	"crypto/sha256"
	"encoding/hex"
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
	Bytes  []byte
}

func (photoRow) TableName() string { return "photos" }

// KeepPhoto stores p and returns its digest; the same picture is stored once.
// It comes before the entry that names it.
func (m *Mill) KeepPhoto(ctx context.Context, p Photo, at time.Time) (string, error) {
	digest := p.Digest()
	err := m.s.writer.do(ctx, func(tx *Tx) error {
		return tx.gorm().Exec("INSERT INTO photos (mill, digest, type, width, height, at, bytes) VALUES (?, ?, ?, ?, ?, ?, ?) ON CONFLICT DO NOTHING",
			m.id, digest, p.Type, p.Width, p.Height, millis(at), p.Bytes).Error
	})
	return digest, err
}

// Photo loads a picture by its digest.
func (m *Mill) Photo(ctx context.Context, digest string) (Photo, error) {
	row, err := one[photoRow](ctxReader{m, ctx}, "photo", "mill = ? AND digest = ?", m.id, digest)
	return Photo{Type: row.Type, Width: row.Width, Height: row.Height, Bytes: row.Bytes}, err
}
