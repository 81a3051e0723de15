package procedures

import (
	"slices"

	"stillsaw/procedures/plain"
)

// Answers is what starters vary with: how the head rig is driven and fed, how
// it dogs, lifts and draws dust off. A word it doesn't know is taken for the
// arrangement with more energies to control; Validate names it.
type Answers struct {
	Drive             string // "electric", "engine", "tractor-shaft"
	Feed              string // "mandrel", "own-motor", "hydraulic", "hand"
	Dogs              string // "hand", "power"
	Hoist             string // "electric", "hand-chain"
	Collector         string // "none", "cyclone", "bag-house", "open-bag"
	Headblocks        int
	Portable          bool
	Setworks          string // "hand", "powered"; "" is not asked yet, and by hand
	OffBearing        string // "none", "powered"; "" is not asked yet, and none
	IsolatorCutsPower bool   // a saw isolator also cuts the power of the PC Stillsaw runs on
}

// Validate returns nil or a [plain.Problems] with every answer outside its list.
func (a Answers) Validate() error {
	var bad plain.Problems
	bad.Unless(slices.Contains([]string{"electric", "engine", "tractor-shaft"}, a.Drive), "drive", "choose what turns the saw")
	bad.Unless(slices.Contains([]string{"mandrel", "own-motor", "hydraulic", "hand"}, a.Feed), "feed", "choose what moves the carriage")
	bad.Unless(slices.Contains([]string{"hand", "power"}, a.Dogs), "dogs", "choose how the dogs are set")
	bad.Unless(slices.Contains([]string{"electric", "hand-chain"}, a.Hoist), "hoist", "choose which hoist it is")
	bad.Unless(slices.Contains([]string{"none", "cyclone", "bag-house", "open-bag"}, a.Collector), "collector", "choose what collects the dust")
	bad.Unless(slices.Contains([]string{"", "hand", "powered"}, a.Setworks), "setworks", "choose how the setworks are set")
	bad.Unless(slices.Contains([]string{"", "none", "powered"}, a.OffBearing), "off_bearing", "choose what takes boards, slabs and sawdust away")
	bad.Unless(a.Headblocks >= 1 && a.Headblocks <= 8, "headblocks", "1 to 8")
	return bad.Err()
}

// StarterPlant returns the equipment of a mill with these answers, with the
// energies and isolators such machines have. Sizes are left blank and coast
// times zero: the mill puts in its own.
func StarterPlant(a Answers) Plant {
	saw, carriage, dogs, hoist := sawPart(a), carriagePart(a), dogsPart(a), hoistPart(a)
	plant := Plant{{ID: "site", Kind: Site, Name: "Mill"}}
	supply := Equipment{PartOf: "site", Kind: Supply, Links: []Link{{Kind: Supplies, To: "head-saw"}}}
	switch a.Drive {
	case "engine":
		supply.ID, supply.Name = "engine", "Engine"
		plant = append(plant, enginePart().onto(supply))
	case "tractor-shaft":
		supply.ID, supply.Name = "tractor", "Tractor"
		plant = append(plant, tractorPart().onto(supply))
	}
	headSaw := Equipment{ID: "head-saw", PartOf: "site", Kind: HeadSaw, Name: "Head saw"}
	if a.mandrelFed() {
		headSaw.Links = []Link{{Kind: Drives, To: "carriage"}}
	}
	plant = append(plant,
		saw.onto(headSaw),
		carriage.onto(Equipment{ID: "carriage", PartOf: "site", Kind: Carriage, Name: "Carriage"}),
		dogs.onto(Equipment{ID: "dogs-and-knees", PartOf: "carriage", Kind: DogsAndKnees, Name: "Dogs and knees"}),
		hoist.onto(Equipment{ID: "hoist", PartOf: "site", Kind: Hoist, Name: "Hoist", Links: []Link{{Kind: LandsOn, To: "carriage"}}}),
	)
	if a.Collector != "none" {
		plant = append(plant, dustPart(a).onto(Equipment{ID: "dust-collection", PartOf: "site", Kind: DustCollection, Name: "Dust collection"}))
	}
	if a.poweredOffBearing() {
		plant = append(plant, offBearingPart().onto(Equipment{ID: "off-bearing", PartOf: "site", Kind: OffBearing, Name: "Off-bearing and waste conveyor"}))
	}
	return plant
}

// mandrelFed tells whether turning the saw moves the carriage.
func (a Answers) mandrelFed() bool {
	return a.Feed != "own-motor" && a.Feed != "hydraulic" && a.Feed != "hand"
}

// poweredOffBearing tells whether boards, slabs and sawdust are taken away by
// power.
func (a Answers) poweredOffBearing() bool { return a.OffBearing != "" && a.OffBearing != "none" }

// StarterProcedures returns drafts (Version 0) to read against the machine, to
// edit and to publish. Energies and devices are those of the plant where it has
// one of the same id, so that a measured coast time goes into the waits.
func StarterProcedures(plant Plant, a Answers) []Procedure {
	drive, saw, carriage, dogs := sawDrivePart(a), sawPart(a), carriagePart(a), dogsPart(a)
	supply := []EquipmentID(nil)
	if a.Drive == "engine" {
		drive = enginePart().and(drive)
		saw = enginePart().and(saw)
		supply = []EquipmentID{"engine"}
	} else if a.Drive == "tractor-shaft" {
		supply = []EquipmentID{"tractor"}
	}
	holds := func(ids ...EquipmentID) []EquipmentID { return append(ids, supply...) }
	drafts := []Procedure{
		draft(plant, a, "head-saw", "Head saw", saw.and(carriage), []EquipmentID{"head-saw"}, holds("carriage")),
		draft(plant, a, "carriage", "Carriage", drive.and(carriage), []EquipmentID{"carriage"}, holds("head-saw")),
		draft(plant, a, "dogs-and-knees", "Dogs and knees", drive.and(carriage).and(dogs), []EquipmentID{"dogs-and-knees"}, holds("carriage", "head-saw")),
		draft(plant, a, "hoist", "Hoist", hoistPart(a), []EquipmentID{"hoist"}, nil),
		draft(plant, a, "head-rig", "Whole head rig, overnight and before the shift", saw.and(carriage).and(dogs),
			[]EquipmentID{"head-saw", "carriage", "dogs-and-knees"}, holds()),
	}
	if a.Collector != "none" {
		drafts = append(drafts, draft(plant, a, "dust-collection", "Dust collection", dustPart(a), []EquipmentID{"dust-collection"}, nil))
	}
	switch a.Drive {
	case "engine":
		drafts = append(drafts, draft(plant, a, "engine", "Engine", drive.and(part{stop: []Step{{ID: "stop-engine", Text: "Stop the engine when the saw stands still."}}}), []EquipmentID{"engine"}, []EquipmentID{"head-saw"}))
	case "tractor-shaft":
		drafts = append(drafts, draft(plant, a, "tractor", "Tractor and its shaft", tractorPart().and(drive).and(part{stop: []Step{{ID: "stop-tractor", Text: "Stop the tractor when the saw stands still."}}}), []EquipmentID{"tractor"}, []EquipmentID{"head-saw"}))
	}
	if a.poweredOffBearing() {
		drafts = append(drafts, draft(plant, a, "off-bearing", "Off-bearing and waste conveyor", offBearingPart(), []EquipmentID{"off-bearing"}, nil))
	}
	return drafts
}
