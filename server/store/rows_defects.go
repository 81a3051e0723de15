package store

import "stillsaw/checklists"

type defectNoteRow struct {
	Mill   string `gorm:"primaryKey"`
	ID     string `gorm:"primaryKey"`
	Defect string
	At     int64
	Doc    checklists.DefectNote `gorm:"serializer:json"`
}

func (defectNoteRow) TableName() string { return "defect_notes" }

type incidentRow struct {
	Mill      string `gorm:"primaryKey"`
	ID        string `gorm:"primaryKey"`
	Equipment string
	Open      bool
	At        int64
	Doc       checklists.Incident `gorm:"serializer:json"`
}

func (incidentRow) TableName() string { return "incidents" }

type incidentActionRow struct {
	Mill     string `gorm:"primaryKey"`
	ID       string `gorm:"primaryKey"`
	Incident string
	Person   string
	Open     bool
	At       int64
	Doc      checklists.IncidentAction `gorm:"serializer:json"`
}

func (incidentActionRow) TableName() string { return "incident_actions" }
