package server

import (
	"time"

	"github.com/gofiber/fiber/v2"

	"stillsaw/procedures"
	"stillsaw/procedures/plain"
)

func trainingOperations() []operation {
	return []operation{
		reads("listTrainings", "/trainings", "/training", "Trainings, the oldest first; to an operator the own ones", listTrainingsForAPI),
		writes("enterTraining", fiber.MethodPost, "/trainings", "/training/new", "Certify that people were trained, all or none of them", enterTrainingForAPI),
	}
}

type apiTraining struct {
	ID          procedures.TrainingID   `json:"id"`
	Person      procedures.PersonID     `json:"person"`
	Level       string                  `json:"level" oneof:"authorized|affected|other"`
	Procedures  []apiTaught             `json:"procedures"`
	EnergyKinds []procedures.EnergyKind `json:"energy_kinds"`
	Tags        bool                    `json:"tags" says:"tags were part of it"`
	TagPoints   []procedures.TagPoint   `json:"tag_points"`
	Again       bool                    `json:"again" says:"retraining"`
	Covered     string                  `json:"covered"`
	Trainer     string                  `json:"trainer,omitzero"`
	OwnWord     bool                    `json:"own_word" says:"nobody else certifies it"`
	On          time.Time               `json:"on" says:"the moment its day begins"`
	Expires     time.Time               `json:"expires,omitzero" says:"the first day it no longer counts"`
	By          procedures.PersonID     `json:"by" says:"who entered it"`
	At          time.Time               `json:"at"`
}

type apiTaught struct {
	Procedure procedures.ProcedureID `json:"procedure"`
	Version   int                    `json:"version"`
}

func listTrainingsForAPI(c *call) (items[apiTraining], error) {
	all, err := c.desk.Trainings(c.ctx())
	var shown []procedures.Training
	for _, t := range all {
		if c.readsAll() || t.Person == c.person.ID {
			shown = append(shown, t)
		}
	}
	return itemsOf(shown, func(t procedures.Training) apiTraining {
		return apiTraining{t.ID, t.Person, string(t.Level), each(t.Procedures, func(on procedures.TrainedOn) apiTaught { return apiTaught(on) }), each(t.EnergyKinds, asIs), t.Tags, each(t.TagPoints, asIs),
			t.Again, t.Covered, t.Trainer, t.OwnWord, t.On, t.Expires, t.By, t.At}
	}), err
}

// asIs is for a list that is written as it is, none as an empty one.
func asIs[T any](one T) T { return one }

type apiTrainingPost struct {
	signature
	People      []procedures.PersonID    `json:"people"`
	Level       string                   `json:"level" oneof:"authorized|affected|other"`
	Procedures  []procedures.ProcedureID `json:"procedures,omitzero" says:"gone through as they were in force on the day"`
	EnergyKinds []procedures.EnergyKind  `json:"energy_kinds,omitzero"`
	Tags        bool                     `json:"tags,omitzero"`
	TagPoints   []procedures.TagPoint    `json:"tag_points,omitzero" says:"all six, where tags were part of it" oneof:"only-warns|not-bypassed|understood|withstands|false-safety|firmly-placed"`
	Again       bool                     `json:"again,omitzero"`
	Covered     string                   `json:"covered,omitzero"`
	Trainer     string                   `json:"trainer,omitzero"`
	OwnWord     bool                     `json:"own_word,omitzero"`
	On          string                   `json:"on" says:"a day of the mill" format:"date"`
	Expires     string                   `json:"expires,omitzero" format:"date"`
}

func enterTrainingForAPI(c *call, b apiTrainingPost) (apiDone, error) {
	t := procedures.Training{Level: procedures.Level(b.Level), EnergyKinds: b.EnergyKinds, Tags: b.Tags, TagPoints: b.TagPoints, Again: b.Again, Covered: b.Covered, Trainer: b.Trainer, OwnWord: b.OwnWord,
		Procedures: each(b.Procedures, func(id procedures.ProcedureID) procedures.TrainedOn { return procedures.TrainedOn{Procedure: id} })}
	var bad plain.Problems
	var err error
	t.On, err = c.dayOf("on", b.On)
	bad.Add("", err)
	t.Expires, err = c.dayOf("expires", b.Expires)
	bad.Add("", err)
	if err := bad.Err(); err != nil {
		return apiDone{}, err
	}
	if t.OwnWord {
		t.Trainer = ""
	}
	id, err := c.desk.EnterTrainings(c.ctx(), c.submission(), t, b.People, c.person, c.now)
	return done(id, namedAs(map[string]string{"person": "people"}, err))
}
