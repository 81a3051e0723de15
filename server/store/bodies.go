package store

import (
	"encoding/json"
	"slices"
	"time"

	"stillsaw/checklists"
	"stillsaw/procedures"
	"stillsaw/server/record"
)

// body is one kind of entry: what it says, and what it changes in the tables.
// Projections are written here and nowhere else, so that replaying the entries
// makes the same tables. A body that must change in meaning gets a new type
// and a new version beside the old one, which stays for ever.
type body interface {
	kind() (name string, version int)
	about() []procedures.EquipmentID
	project(tx *Tx, e entry) error
}

// Kinds of entries, as they stand in the record for good.
const (
	KindMill            = "mill"
	KindPerson          = "person"
	KindPINReset        = "pin-reset"
	KindEquipment       = "equipment"
	KindPublished       = "published"
	KindInspection      = "inspection"
	KindAmendment       = "amendment"
	KindRunCheck        = "run-check"
	KindDefect          = "defect"
	KindDescribed       = "defect-described"
	KindMended          = "defect-mended"
	KindReturned        = "defect-returned"
	KindDeparture       = "departure"
	KindDepartureClosed = "departure-closed"
	KindLift            = "lift"
	KindLockout         = "lockout"
	KindClockConfirmed  = "clock-confirmed"
	KindWeighed         = "lift-weighed"
	KindGearInspected   = "gear-inspected"
	KindGearMeasured    = "gear-measured"
	KindLiftOfRun       = "lift-of-run"
	KindLighter         = "lighter-signed"

	KindTraining           = "training"
	KindProcedureInspected = "procedure-inspected"
	KindFindingSeenTo      = "finding-seen-to"
	KindLock               = "lock"
	KindContractor         = "contractor"
	KindProgram            = "program"
	KindCoast              = "coast-measured"
	KindDeclaration        = "exception-declared"
	KindTask               = "task"
)

// Kinds lists every kind, in the order a page offers them.
func Kinds() []string {
	return []string{KindInspection, KindUnsigned, KindSetAside, KindAmendment, KindRunCheck, KindDefect, KindDescribed, KindMended, KindReturned, KindDeparture, KindDepartureClosed,
		KindDefectAssigned, KindDefectRedated, KindDefectNoted, KindIncident, KindIncidentAction, KindIncidentActionDone, KindIncidentHarm, KindIncidentClosed,
		KindLift, KindLiftOfRun, KindWeighed, KindLighter, KindGearInspected, KindGearMeasured, KindLockout, KindLock, KindBlade, KindBladeAct, KindSafetyItem, KindSafetyCheck, KindTraining, KindProcedureInspected, KindFindingSeenTo, KindContractor, KindProgram, KindEmergencyCard, KindTask, KindEvent, KindExcuse,
		KindPublished, KindEquipment, KindPerson, KindPINReset, KindMill, KindTokenMade, KindTokenRevoked, KindKeepFor, KindHold, KindHoldLifted, KindDropped, KindLogKey, KindWitness, KindWitnessAlarm, KindBackup, KindClockConfirmed}
}

// bodyOf makes an empty body to read an entry of the kind and version into, or
// nil when this Stillsaw does not know it.
func bodyOf(kind string, version int) body {
	if version != 1 {
		return nil
	}
	if b := retentionBodyOf(kind); b != nil {
		return b
	}
	if b := happeningBodyOf(kind); b != nil {
		return b
	}
	if b := tokenBodyOf(kind); b != nil {
		return b
	}
	switch kind {
	case KindMill:
		return &millBody{}
	case KindPerson:
		return &personBody{}
	case KindPINReset:
		return &pinResetBody{}
	case KindEquipment:
		return &plantBody{}
	case KindPublished:
		return &publishedBody{}
	case KindInspection:
		return &inspectionBody{}
	case KindUnsigned:
		return &unsignedBody{}
	case KindSetAside:
		return &asideBody{}
	case KindAmendment:
		return &amendmentBody{}
	case KindRunCheck:
		return &runCheckBody{}
	case KindDefect:
		return &defectBody{}
	case KindDescribed:
		return &describedBody{}
	case KindMended:
		return &mendedBody{}
	case KindReturned:
		return &returnedBody{}
	case KindDeparture:
		return &departureBody{}
	case KindDepartureClosed:
		return &departureClosedBody{}
	case KindLift:
		return &liftBody{}
	case KindLockout:
		return &lockoutBody{}
	case KindClockConfirmed:
		return &clockBody{}
	case KindWeighed:
		return &weighedBody{}
	case KindGearInspected:
		return &gearInspectedBody{}
	case KindGearMeasured:
		return &gearMeasuredBody{}
	case KindTraining:
		return &trainingBody{}
	case KindProcedureInspected:
		return &procedureInspectedBody{}
	case KindFindingSeenTo:
		return &findingSeenToBody{}
	case KindLock:
		return &lockItemBody{}
	case KindContractor:
		return &contractorBody{}
	case KindProgram:
		return &programBody{}
	case KindCoast:
		return &coastBody{}
	case KindDeclaration:
		return &declarationBody{}
	case KindTask:
		return &taskBody{}
	case KindLiftOfRun:
		return &liftOfRunBody{}
	case KindLighter:
		return &lighterBody{}
	case KindEmergencyCard:
		return &emergencyCardBody{}
	case KindLogKey:
		return &logKeyBody{}
	case KindBackup:
		return &backupBody{}
	}
	if b := registerBodyOf(kind); b != nil {
		return b
	}
	if b := witnessBodyOf(kind); b != nil {
		return b
	}
	return defectBodyOf(kind)
}

// everywhere: an entry that is about the mill and no one machine.
type everywhere struct{}

func (everywhere) about() []procedures.EquipmentID { return nil }

// millBody is the mill without the reasons it is closed for, which may say
// something of a person, and those reasons in the order of its closures.
type millBody struct {
	everywhere
	Mill    checklists.Mill   `json:"mill"`
	Reasons []record.Personal `json:"reasons"`
}

func newMillBody(m checklists.Mill) *millBody {
	b := &millBody{Mill: m}
	b.Mill.Closed = slices.Clone(m.Closed)
	for i := range b.Mill.Closed {
		b.Reasons = append(b.Reasons, record.Personal(b.Mill.Closed[i].Reason))
		b.Mill.Closed[i].Reason = ""
	}
	return b
}

func (b *millBody) mill() checklists.Mill {
	m := b.Mill
	m.Closed = slices.Clone(m.Closed)
	for i := range min(len(m.Closed), len(b.Reasons)) {
		m.Closed[i].Reason = string(b.Reasons[i])
	}
	return m
}

func (*millBody) kind() (string, int) { return KindMill, 1 }

func (b *millBody) project(tx *Tx, e entry) error {
	tx.mill = nil
	return tx.put(&millRow{ID: string(b.Mill.ID), Name: b.Mill.Name, Doc: b.mill()}, "name", "doc")
}

type personBody struct {
	everywhere
	procedures.Person
	Name record.Personal `json:"name"`

	// Entered before there were such, an entry has none of them.
	ElectricalNote record.Personal `json:"electrical_note,omitzero"`
	LiftingNote    record.Personal `json:"lifting_note,omitzero"`
	MinorUntil     record.Personal `json:"minor_until,omitzero"` // RFC 3339; "" for no day
}

func newPersonBody(p procedures.Person) *personBody {
	b := &personBody{Person: p, Name: record.Personal(p.Name), ElectricalNote: record.Personal(p.ElectricalNote), LiftingNote: record.Personal(p.LiftingNote)}
	if !p.MinorUntil.IsZero() {
		b.MinorUntil = record.Personal(p.MinorUntil.UTC().Format(time.RFC3339))
	}
	return b
}

func (b *personBody) person() procedures.Person {
	p := b.Person
	p.Name, p.ElectricalNote, p.LiftingNote = string(b.Name), string(b.ElectricalNote), string(b.LiftingNote)
	// A day that is not kept, or can't be read, leaves the person under 18 for good.
	p.MinorUntil, _ = time.Parse(time.RFC3339, string(b.MinorUntil))
	return p
}

func (*personBody) kind() (string, int) { return KindPerson, 1 }

func (b *personBody) project(tx *Tx, e entry) error {
	p := b.person()
	return tx.put(&personRow{Mill: e.Mill, ID: string(p.ID), Name: p.Name, Doc: p}, "name", "doc")
}

// pinResetBody says that a person's PIN or password was set anew and how; the
// secret itself stands in no entry.
type pinResetBody struct {
	everywhere
	Person procedures.PersonID `json:"person"`
	How    string              `json:"how"` // "by-supervisor", "at-the-pc", "by-owner"
}

func (*pinResetBody) kind() (string, int)      { return KindPINReset, 1 }
func (*pinResetBody) project(*Tx, entry) error { return nil }

type plantBody struct {
	Plant procedures.Plant `json:"plant"`
}

func (*plantBody) kind() (string, int) { return KindEquipment, 1 }

func (b *plantBody) about() []procedures.EquipmentID {
	ids := make([]procedures.EquipmentID, len(b.Plant))
	for i := range b.Plant {
		ids[i] = b.Plant[i].ID
	}
	return ids
}

func (b *plantBody) project(tx *Tx, e entry) error {
	if err := tx.db.Delete(&equipmentRow{}, "mill = ?", e.Mill).Error; err != nil {
		return err
	}
	rows := make([]equipmentRow, len(b.Plant))
	for i := range b.Plant {
		rows[i] = equipmentRow{Mill: e.Mill, ID: string(b.Plant[i].ID), Position: i, Doc: b.Plant[i]}
	}
	return createAll(tx, rows)
}

// publishedBody is a list, a procedure or a rig put in force with its whole text.
// Texts are what people wrote into a rig in their own words, taken out of Doc.
type publishedBody struct {
	everywhere
	Sort    Sort            `json:"sort"`
	ID      string          `json:"id"`
	Version int             `json:"version"`
	Title   string          `json:"title"`
	Doc     json.RawMessage `json:"doc"`

	Texts []record.Personal `json:"texts"`

	// Renewal is none for a first version and where it was not asked.
	Renewal *renewalBody `json:"renewal,omitzero"`
}

func newPublishedBody(sort Sort, id string, version int, title, doc string) (*publishedBody, error) {
	b := &publishedBody{Sort: sort, ID: id, Version: version, Title: title, Doc: json.RawMessage(doc)}
	if sort != Rigs {
		return b, nil
	}
	rig, err := ReadRig(doc)
	if err != nil {
		return nil, err
	}
	bare, texts := rig.WithoutTexts()
	b.Texts = personals(texts)
	b.Doc, err = json.Marshal(bare)
	return b, err
}

// doc is the whole text, with what is not kept left empty.
func (b *publishedBody) doc() (string, error) {
	if b.Sort != Rigs {
		return string(b.Doc), nil
	}
	rig, err := ReadRig(string(b.Doc))
	if err != nil {
		return "", err
	}
	return marshal(rig.WithTexts(plainTexts(b.Texts)))
}

// personals are texts as they go into a body; none stay none.
func personals(texts []string) []record.Personal {
	var sealed []record.Personal
	for _, text := range texts {
		sealed = append(sealed, record.Personal(text))
	}
	return sealed
}

func plainTexts(sealed []record.Personal) []string {
	var texts []string
	for _, text := range sealed {
		texts = append(texts, string(text))
	}
	return texts
}

func (*publishedBody) kind() (string, int) { return KindPublished, 1 }

func (b *publishedBody) project(tx *Tx, e entry) error {
	doc, err := b.doc()
	if err != nil {
		return err
	}
	if b.Renewal != nil {
		if err := tx.add(&renewalRow{Mill: e.Mill, Procedure: b.ID, Version: b.Version, Doc: b.Renewal.renewal()}); err != nil {
			return err
		}
	}
	if b.Sort == Lists {
		if err := releases(tx, e.Mill, doc, e.At); err != nil {
			return err
		}
	}
	return tx.add(&publicationRow{Mill: e.Mill, Sort: string(b.Sort), ID: b.ID, Version: b.Version, Title: b.Title,
		Actor: string(e.Actor), At: millis(e.At), Doc: doc})
}
