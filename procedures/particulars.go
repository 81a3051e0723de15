package procedures

import (
	"slices"
	"strings"
	"time"

	"stillsaw/procedures/plain"
)

// longestName bounds the texts of equipment, in bytes.
const longestName = 200

// Particulars is what a supervisor may change of a piece of equipment: its
// name, sizes as measured, how its devices are found and what it acts on.
// Energies and devices themselves follow from the machine.
type Particulars struct {
	Name    string
	Sizes   map[EnergyID]string
	Coasts  map[EnergyID]time.Duration // 0: not yet measured
	Devices map[DeviceID]Fitting
	Links   []Link

	Headblocks  []float64 // of a carriage, as [Equipment] has them
	LandingMark float64
}

// Fitting is how a device is found at the machine and whether it takes a lock.
// Number 0 means that none is painted on it.
type Fitting struct {
	Marking
	Lockable bool
}

// Particulars returns e's own, to be changed and given to [Plant.Changed].
func (e Equipment) Particulars() Particulars {
	w := Particulars{Name: e.Name, Links: e.Links, Headblocks: e.Headblocks, LandingMark: e.LandingMark, Sizes: map[EnergyID]string{}, Coasts: map[EnergyID]time.Duration{}, Devices: map[DeviceID]Fitting{}}
	for _, energy := range e.Energies {
		w.Sizes[energy.ID], w.Coasts[energy.ID] = energy.Magnitude, energy.Coast
	}
	for _, d := range e.Devices {
		w.Devices[d.ID] = Fitting{Marking{Label: d.Label, Place: d.Place, Number: d.Number}, d.Lockable}
	}
	return w
}

// Changed returns the plant with w for the equipment of that id. Its error is a
// [plain.Problems] for "name", "links", "headblocks", "landing_mark", and "size.", "coast.", "label.",
// "place." and "number." followed by the id of the energy or device, or for
// "piece" when the plant has none of that id.
func (p Plant) Changed(id EquipmentID, w Particulars) (Plant, error) {
	var bad plain.Problems
	at := slices.IndexFunc(p, func(e Equipment) bool { return e.ID == id })
	bad.Unless(at >= 0, "piece", "a piece of equipment of this mill")
	if at < 0 {
		return p, bad.Err()
	}
	e := p[at]
	e.Name, e.Links = strings.TrimSpace(w.Name), w.Links
	bad.Unless(!blank(e.Name) && len(e.Name) <= longestName, "name", "give it a name, not too long to read on a phone")
	e.Headblocks, e.LandingMark = slices.Sorted(slices.Values(w.Headblocks)), w.LandingMark
	bad.Add("", e.checkTrack())
	e.Energies, e.Devices = slices.Clone(e.Energies), slices.Clone(e.Devices)
	for i := range e.Energies {
		energy := &e.Energies[i]
		energy.Magnitude, energy.Coast = strings.TrimSpace(w.Sizes[energy.ID]), w.Coasts[energy.ID]
		bad.Unless(len(energy.Magnitude) <= longestName, "size."+string(energy.ID), "number and unit, in a few words")
		bad.Unless(energy.Coast >= 0 && energy.Coast <= CoastMost, "coast."+string(energy.ID), "the seconds it takes to stand still, at most %s; empty while not yet measured", CoastMost)
	}
	numbers := map[int]bool{}
	for i := range e.Devices {
		d := &e.Devices[i]
		to := w.Devices[d.ID]
		d.Label, d.Place, d.Number, d.Lockable = strings.TrimSpace(to.Label), strings.TrimSpace(to.Place), to.Number, to.Lockable
		bad.Unless(d.Label != "" && len(d.Label) <= longestName, "label."+string(d.ID), "what it is called at the machine")
		bad.Unless(len(d.Place) <= longestName, "place."+string(d.ID), "where it is, in a few words")
		bad.Unless(d.Number >= 0 && d.Number <= 99 && !numbers[d.Number], "number."+string(d.ID), "1 to 99, as painted at the machine, each number once; empty if none is painted")
		numbers[d.Number] = d.Number > 0
	}
	if err := bad.Err(); err != nil {
		return p, err
	}
	changed := slices.Clone(p)
	changed[at] = e
	bad.At("links", changed.Validate())
	return changed, bad.Err()
}

// Added returns the plant with one more piece, its id made by the caller. Its
// error is a [plain.Problems] for "name", "kind" and "part_of".
func (p Plant) Added(e Equipment) (Plant, error) {
	var bad plain.Problems
	e.Name = strings.TrimSpace(e.Name)
	bad.Unless(!blank(e.Name) && len(e.Name) <= longestName, "name", "give it a name, not too long to read on a phone")
	bad.Unless(e.Kind.known() && e.Kind != Site, "kind", "a kind from the list")
	_, known := p.Find(e.PartOf)
	bad.Unless(known, "part_of", "the mill, or a piece of equipment it is fixed to")
	if err := bad.Err(); err != nil {
		return p, err
	}
	more := append(slices.Clone(p), e)
	bad.At("name", more.Validate())
	return more, bad.Err()
}

// Removed returns the plant less a piece nothing else hangs on. It is refused
// for the site, for a whole whose parts are still there, and while another
// piece acts on it.
func (p Plant) Removed(id EquipmentID) (Plant, error) {
	e, known := p.Find(id)
	if !known {
		return p, plain.Problems{{Field: "piece", Want: plain.Say("a piece of equipment of this mill")}}
	}
	if e.Kind == Site {
		return p, plain.Refuse("", "The mill itself can't be removed.")
	}
	if parts := p.Parts(id); len(parts) > 0 {
		return p, plain.Refuse("", "It has parts; remove those first.")
	}
	less := slices.DeleteFunc(slices.Clone(p), func(e Equipment) bool { return e.ID == id })
	for _, other := range less {
		if slices.ContainsFunc(other.Links, func(l Link) bool { return l.To == id }) {
			return p, plain.Refuse("", "%s acts on it; take that link off first.", other.Name)
		}
	}
	if err := less.Validate(); err != nil {
		return p, plain.Refuse("", "Its energies are cut by a device of another piece.")
	}
	return less, nil
}
