package bench

import (
	"encoding/json"
	"errors"
	"fmt"
	"net"
	"path/filepath"
	"testing"
	"time"

	"github.com/alexedwards/argon2id"
	"github.com/gofiber/fiber/v2"
	"github.com/stretchr/testify/require"
	"gorm.io/driver/sqlite"
	"gorm.io/gorm"
	"gorm.io/gorm/logger"
)

// The plain way: what one writes in an afternoon with fiber and gorm. A table for
// people, one for tokens, lists with items, inspections with answers, an entry for
// the record; the rows of a sign-off in one transaction, durable as ours are. No
// log that proves anything, no rules beyond the limits of the list, no search, no
// submission that is done once.

type plainPerson struct {
	ID     uint `gorm:"primaryKey"`
	Name   string
	Role   string
	Digest string
}

type plainToken struct {
	ID       uint   `gorm:"primaryKey"`
	Secret   string `gorm:"uniqueIndex"`
	PersonID uint
	Person   plainPerson
}

type plainList struct {
	ID      uint   `gorm:"primaryKey"`
	Name    string `gorm:"uniqueIndex"`
	Version int
	Items   []plainItem `gorm:"foreignKey:ListID"`
}

type plainItem struct {
	ID        uint `gorm:"primaryKey"`
	ListID    uint `gorm:"index"`
	Code      string
	Prompt    string
	Equipment string
	Low, High *float64
}

type plainInspection struct {
	ID       uint `gorm:"primaryKey"`
	ListID   uint `gorm:"index"`
	Version  int
	PersonID uint          `gorm:"index"`
	SignedAt time.Time     `gorm:"index"`
	Answers  []plainAnswer `gorm:"foreignKey:InspectionID"`
}

type plainAnswer struct {
	ID           uint `gorm:"primaryKey"`
	InspectionID uint `gorm:"index"`
	Item         string
	Result       string
	Number       *float64
}

type plainEntry struct {
	ID       uint   `gorm:"primaryKey"`
	Kind     string `gorm:"index"`
	Subject  uint   `gorm:"index"`
	PersonID uint
	At       time.Time `gorm:"index"`
	Body     string
}

type plainSent struct {
	PIN     string `json:"pin"`
	List    string `json:"list"`
	Version int    `json:"version"`
	Answers []struct {
		Item   string   `json:"item"`
		Result string   `json:"result"`
		Number *float64 `json:"number"`
	} `json:"answers"`
}

// plainWay serves the plain way on loopback until the test ends and returns its address.
func plainWay(t testing.TB, phones int, cost *argon2id.Params) string {
	t.Helper()
	dsn := "file:" + filepath.Join(t.TempDir(), "plain.db") + "?_journal_mode=WAL&_synchronous=FULL&_busy_timeout=5000&_foreign_keys=1"
	db, err := gorm.Open(sqlite.Dialector{DriverName: engine(), DSN: dsn}, &gorm.Config{Logger: logger.Discard})
	require.NoError(t, err)
	require.NoError(t, db.AutoMigrate(&plainPerson{}, &plainToken{}, &plainList{}, &plainItem{}, &plainInspection{}, &plainAnswer{}, &plainEntry{}))
	digest, err := argon2id.CreateHash(pin, cost)
	require.NoError(t, err)
	for i := range phones {
		require.NoError(t, db.Create(&plainToken{Secret: plainSecret(i), Person: plainPerson{Name: fmt.Sprint("Hand ", i), Role: "operator", Digest: digest}}).Error)
	}
	l := plainList{Name: string(listID), Version: 1}
	for _, item := range thirty().Items {
		l.Items = append(l.Items, plainItem{Code: string(item.ID), Prompt: item.Prompt, Equipment: string(item.Equipment), Low: item.Limits.Low, High: item.Limits.High})
	}
	require.NoError(t, db.Create(&l).Error)

	app := fiber.New(fiber.Config{DisableStartupMessage: true})
	app.Post("/inspections", func(c *fiber.Ctx) error { return plainSignOff(c, db) })
	listener, err := net.Listen("tcp", "127.0.0.1:0")
	require.NoError(t, err)
	ended := make(chan error, 1)
	go func() { ended <- app.Listener(listener) }()
	t.Cleanup(func() {
		require.NoError(t, app.Shutdown())
		require.NoError(t, <-ended)
		pool, err := db.DB()
		require.NoError(t, err)
		require.NoError(t, pool.Close())
	})
	return listener.Addr().String()
}

func plainSecret(i int) string { return fmt.Sprint("plain-", i) }

func plainSignOff(c *fiber.Ctx, db *gorm.DB) error {
	var token plainToken
	secret, _ := cutBearer(c.Get(fiber.HeaderAuthorization))
	err := db.Preload("Person").First(&token, "secret = ?", secret).Error
	if errors.Is(err, gorm.ErrRecordNotFound) {
		return fiber.ErrUnauthorized
	}
	if err != nil {
		return err
	}
	var sent plainSent
	if err := c.BodyParser(&sent); err != nil {
		return err
	}
	right, err := argon2id.ComparePasswordAndHash(sent.PIN, token.Person.Digest)
	if err != nil {
		return err
	}
	if !right {
		return fiber.ErrForbidden
	}
	var list plainList
	if err := db.Preload("Items").First(&list, "name = ? AND version = ?", sent.List, sent.Version).Error; err != nil {
		return err
	}
	items := map[string]plainItem{}
	for _, item := range list.Items {
		items[item.Code] = item
	}
	in := plainInspection{ListID: list.ID, Version: list.Version, PersonID: token.PersonID, SignedAt: time.Now()}
	for _, a := range sent.Answers {
		item, known := items[a.Item]
		if !known {
			return fiber.NewError(fiber.StatusUnprocessableEntity, "no such item: "+a.Item)
		}
		delete(items, a.Item)
		if item.Low != nil {
			if a.Number == nil || *a.Number < 0 {
				return fiber.NewError(fiber.StatusUnprocessableEntity, "a number: "+a.Item)
			}
			if a.Result = "ok"; *a.Number < *item.Low || *a.Number > *item.High {
				a.Result = "defect"
			}
		}
		in.Answers = append(in.Answers, plainAnswer{Item: a.Item, Result: a.Result, Number: a.Number})
	}
	if len(items) > 0 {
		return fiber.NewError(fiber.StatusUnprocessableEntity, "not all answered")
	}
	err = db.Transaction(func(tx *gorm.DB) error {
		if err := tx.Create(&in).Error; err != nil {
			return err
		}
		body, err := json.Marshal(in)
		if err != nil {
			return err
		}
		return tx.Create(&plainEntry{Kind: "inspection", Subject: in.ID, PersonID: token.PersonID, At: in.SignedAt, Body: string(body)}).Error
	})
	if err != nil {
		return err
	}
	return c.JSON(fiber.Map{"id": in.ID})
}

func cutBearer(header string) (string, bool) {
	const scheme = "Bearer "
	if len(header) < len(scheme) {
		return "", false
	}
	return header[len(scheme):], true
}
