package lift

import (
	"math"
	"strconv"

	"stillsaw/procedures/plain"
)

// Table is the rated load the published table gives for the link as entered: of
// its grade and size, in the column it is marked for. ok is false where any of
// these isn't known or the table has no such chain; from names the table.
func (l *Link) Table() (kg float64, from string, ok bool) {
	if l.Kind != Leg {
		return 0, "", false
	}
	kg, ok = ChainRating(l.Grade, l.Size, l.MarkedFor)
	switch {
	case !ok:
		return 0, "", false
	case l.Grade == Grade100 && l.Size == Chain1:
		return kg, "a chain maker's page", true
	case l.Grade == Grade100 && l.Size == Chain1_1_4:
		return kg, "this program, from memory,", true
	case l.Grade == Grade100:
		return kg, "OSHA, Guidance on Safe Sling Use, Table 2", true
	}
	return kg, "OSHA, Guidance on Safe Sling Use, Table 1", true
}

// Fill is the rig with what can be looked up filled in where it was left empty,
// and which links it filled: the rated load of a chain leg from the published
// table, the yoke's width and the legs from the setting the rig names. The
// error is a [plain.Problems] of fields named as on a form: a rated load above
// the table's, as it may be overridden only downward, or widths other than the
// named setting's.
//
// A leg whose tag can't be read gets nothing: without its tag a sling has no
// rating, whatever its size (29 CFR 1910.184(c), (e)(1)). Nor does one from a
// figure that was read in no table.
func (r Rig) Fill() (filled Rig, links []int, err error) {
	var bad plain.Problems
	r.Links = append([]Link(nil), r.Links...)
	for i := range r.Links {
		l := &r.Links[i]
		table, from, ok := l.Table()
		switch {
		case !ok:
		case l.RatedLoad > table*tagSlack:
			bad.Unless(false, "link-"+strconv.Itoa(i+1)+"-rated-load", "at most %[1]s, what %[2]s has for such a chain: read the tag again", plain.Kilograms(table), from)
		case l.RatedLoad == 0 && l.TagReadable && (l.Grade != Grade100 || l.Size != Chain1_1_4):
			l.RatedLoad = table
			links = append(links, i)
		}
	}
	r.fillSetting(&bad)
	return r, links, bad.Err()
}

func (r *Rig) fillSetting(bad *plain.Problems) {
	for i := range r.Settings {
		s := &r.Settings[i]
		if s.Name == "" || s.Name != r.Setting {
			continue
		}
		for _, one := range [...]struct {
			x     *float64
			want  float64
			field string
		}{{&r.YokeWidth, s.YokeWidth, "yoke-width"}, {&r.LegLength, s.LegLength, "leg-length"}, {&r.SecondLeg, s.SecondLeg, "second-leg"}} {
			if *one.x == 0 {
				*one.x = one.want
			}
			if math.Abs(*one.x-one.want) > sameLength {
				bad.Unless(false, one.field, "%s, as entered for the setting %s; or another name for the present setting", plain.Metres(one.want), s.Name)
			}
		}
		return
	}
}

// sameLength is how far two lengths may lie apart and be the same one, typed in
// two units; m. Own choice.
const sameLength = 0.0005
