package lift

import (
	"slices"
	"strings"
	"time"
)

// Version is a rig as it was put in force. InForce: it is the newest of that rig.
type Version struct {
	Rig     Rig
	InForce bool
}

// Shared says that a part of a rig may be the same steel as one that stands in
// another rig, or stood in this one under another id. Kept: it was put there on
// purpose as the same part, so that what passes it there passes it here. Else
// only what speaks against it carries over: two tags may read alike.
type Shared struct {
	Link    string // the part's ID in this rig
	Rig, As string // the other rig, and the part's ID there
	Kept    bool
}

// mark is a tag's text as it is compared.
func (l *Link) mark() string { return strings.ToLower(strings.Join(strings.Fields(l.Tag), " ")) }

// sameMark tells whether two parts of one kind carry the same tag.
func (l *Link) sameMark(k *Link) bool {
	return l.Kind == k.Kind && l.mark() != "" && l.mark() == k.mark()
}

// tookPlace tells whether the part stands where another of its kind stood that
// is no longer in the rig, neither with a tag to tell them apart. later are the
// versions after the one that k is of: as it stood last counts.
func (r *Rig) tookPlace(l, k *Link, later []Version) bool {
	if l.Kind != k.Kind || l.mark() != "" || k.mark() != "" || r.link(k.ID) != nil {
		return false
	}
	return !slices.ContainsFunc(later, func(v Version) bool { return v.Rig.ID == r.ID && v.Rig.link(k.ID) != nil })
}

// link is the part of that id, nil where there is none.
func (r *Rig) link(id string) *Link {
	for i := range r.Links {
		if r.Links[i].ID == id {
			return &r.Links[i]
		}
	}
	return nil
}

// Shared lists where else the parts of r stand or stood, by all versions of all
// rigs of the mill, the older of a rig first. The same steel is: the same tag, whatever its case, on a part
// of the same kind; the same id in a rig begun from this one, or the other way
// round; in this rig also a part without a tag in the place of one without.
func (r *Rig) Shared(all []Version) (shared []Shared) {
	at := map[Shared]int{}
	note := func(l, k *Link, other string, kept bool) {
		key := Shared{Link: l.ID, Rig: other, As: k.ID}
		i, known := at[key]
		if !known {
			i = len(shared)
			at[key], shared = i, append(shared, key)
		}
		shared[i].Kept = shared[i].Kept || kept
	}
	for v := range all {
		other := &all[v].Rig
		family := r.begunWith(other.ID, all)
		for i := range r.Links {
			for j := range other.Links {
				l, k := &r.Links[i], &other.Links[j]
				sameID := l.ID == k.ID && l.Kind == k.Kind
				differ := l.mark() != "" && k.mark() != "" && l.mark() != k.mark()
				switch {
				case l.ID == "" || k.ID == "" || other.ID == r.ID && l.ID == k.ID:
				case other.ID == r.ID:
					if l.sameMark(k) || r.tookPlace(l, k, all[v+1:]) {
						note(l, k, other.ID, false)
					}
				case sameID && family:
					note(l, k, other.ID, all[v].InForce && !differ)
				case sameID && all[v].InForce && !differ, l.sameMark(k):
					note(l, k, other.ID, false)
				}
			}
		}
	}
	return shared
}

// begunWith tells whether one of the two rigs was begun from the other, or both
// from a third.
func (r *Rig) begunWith(other string, all []Version) bool {
	from := map[string]string{}
	for i := range all {
		from[all[i].Rig.ID] = all[i].Rig.Begun
	}
	from[r.ID] = r.Begun
	root := func(id string) string {
		for range len(from) {
			if from[id] == "" {
				break
			}
			id = from[id]
		}
		return id
	}
	return root(r.ID) == root(other)
}

// Register is what a mill knows of all its lifting gear.
type Register struct {
	Looked   []Looked
	Taken    []Taken
	Versions []Version
	Uses     map[string][]time.Time // by rig, as for [Rig.Idled]
}

// Of is what of the register is about the parts of r, as entered of its own: also
// what was entered of the same steel in another rig or under another id.
func (g *Register) Of(r *Rig) (looked []Looked, taken []Taken) {
	type entry struct{ rig, link string }
	same := map[entry][]Shared{}
	for _, one := range r.Shared(g.Versions) {
		same[entry{one.Rig, one.As}] = append(same[entry{one.Rig, one.As}], one)
	}
	for _, one := range g.Looked {
		if one.Rig == r.ID {
			looked = append(looked, one)
		}
		for _, here := range same[entry{one.Rig, one.Link}] {
			as := one
			as.Rig, as.Link, as.Elsewhere = r.ID, here.Link, !here.Kept
			looked = append(looked, as)
		}
	}
	for _, one := range g.Taken {
		if one.Rig == r.ID {
			taken = append(taken, one)
		}
		for _, here := range same[entry{one.Rig, one.Link}] {
			as := one
			as.Rig, as.Link, as.Elsewhere = r.ID, here.Link, !here.Kept
			taken = append(taken, as)
		}
	}
	return looked, taken
}

// By is the rig with all that the mill's register says of its parts, wherever it
// was entered: what is unfit, worn, idle, out of service or destroyed in one rig
// is so in each that has the same steel. The rig's own links are left as they are.
func (r Rig) By(g Register, now time.Time) Rig {
	looked, taken := g.Of(&r)
	shared := r.Shared(g.Versions)
	r = r.Registered(looked, taken)
	r.standing(g.Versions, shared)
	for i := range r.Links {
		l := &r.Links[i]
		for _, kept := range [...]bool{true, false} {
			one := Rig{Links: []Link{*l}}.Idled(r.uses(g, shared, l.ID, kept), looked, now).Links[0]
			if kept || one.IdleOwes > l.IdleOwes { // where only the tag is alike, the worse of the two
				l.IdleSince, l.IdleOwes = one.IdleSince, one.IdleOwes
			}
		}
	}
	return r
}

// uses are those of the rig and of the others that have the part.
func (r *Rig) uses(g Register, shared []Shared, link string, kept bool) []time.Time {
	uses := slices.Clone(g.Uses[r.ID])
	for _, one := range shared {
		if one.Link == link && one.Rig != r.ID && (one.Kept || !kept) {
			uses = append(uses, g.Uses[one.Rig]...)
		}
	}
	return uses
}

// standing takes over what other entries of the same steel stand as: destroyed
// in any version, out of service in the one in force.
func (r *Rig) standing(all []Version, shared []Shared) {
	for _, one := range shared {
		for v := range all {
			if all[v].Rig.ID != one.Rig {
				continue
			}
			for j := range all[v].Rig.Links {
				k := &all[v].Rig.Links[j]
				if k.ID != one.As || k.State != Destroyed && (k.State != OutOfService || !all[v].InForce) {
					continue
				}
				for i := range r.Links {
					if l := &r.Links[i]; l.ID == one.Link && l.State != Destroyed && (k.State == Destroyed || l.State == InService) {
						l.State = k.State
					}
				}
			}
		}
	}
}
