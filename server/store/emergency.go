package store

import (
	"context"
	"errors"
	"time"

	"stillsaw/checklists"
	"stillsaw/procedures"
	"stillsaw/server/record"
)

// KindEmergencyCard is an emergency card, as it stands in the record for good.
const KindEmergencyCard = "emergency-card"

type emergencyCardRow struct {
	Mill string `gorm:"primaryKey"`
	At   int64
	Doc  checklists.EmergencyCard `gorm:"serializer:json"`
}

func (emergencyCardRow) TableName() string { return "emergency_cards" }

// emergencyCardBody is a card without its texts, and those: they may name people
// and where they live.
type emergencyCardBody struct {
	everywhere
	Card  checklists.EmergencyCard `json:"card"`
	Texts []record.Personal        `json:"texts"`
}

func (b *emergencyCardBody) card() checklists.EmergencyCard {
	return b.Card.WithTexts(plainTexts(b.Texts))
}

func (*emergencyCardBody) kind() (string, int) { return KindEmergencyCard, 1 }

func (b *emergencyCardBody) project(tx *Tx, e entry) error {
	return tx.put(&emergencyCardRow{Mill: e.Mill, At: millis(e.At), Doc: b.card()}, "at", "doc")
}

// SignEmergencyCard puts a card in force in place of the one before. seen is the
// [Mark] of the one the form was filled in against. Its error is what
// [checklists.EmergencyCard.Sign] refuses, or ErrChanged.
func (m *Mill) SignEmergencyCard(ctx context.Context, submission, seen string, c checklists.EmergencyCard, by procedures.Person, at time.Time) error {
	_, err := m.do(ctx, submission, "emergency-card", at, func(tx *Tx, at time.Time) (string, error) {
		before, err := emergencyCard(tx, m.id)
		if err != nil {
			return "", err
		}
		if Mark(before) != seen {
			return "", ErrChanged
		}
		signed, err := c.Sign(by, at)
		if err != nil {
			return "", err
		}
		bare, texts := signed.WithoutTexts()
		_, err = tx.append(m.id, act{Actor: by.ID, At: at, Subject: string(m.id)}, &emergencyCardBody{Card: bare, Texts: personals(texts)})
		return string(m.id), err
	})
	return err
}

// EmergencyCard loads the mill's card, the zero one where nobody has made any.
func (m *Mill) EmergencyCard(ctx context.Context) (checklists.EmergencyCard, error) {
	return emergencyCard(ctxReader{m, ctx}, m.id)
}

func emergencyCard(r reader, mill checklists.MillID) (checklists.EmergencyCard, error) {
	row, err := one[emergencyCardRow](r, "emergency card", "mill = ?", mill)
	if errors.Is(err, ErrNotFound) {
		return checklists.EmergencyCard{}, nil
	}
	return row.Doc, err
}
