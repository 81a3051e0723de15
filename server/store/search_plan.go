package store

import (
	"encoding"
	"encoding/json"
	"reflect"
	"slices"
	"sync"

	"stillsaw/procedures"
	"stillsaw/server/record"
)

// A tellPlan is where in the values of a type something may stand that an entry is
// found by. It is found out once for each type: most fields of an answer are none.
type tellPlan struct {
	sort   tellSort
	elem   *tellPlan // of what is pointed at, or in a list or map
	key    *tellPlan // of a map
	fields []tellField
}

type tellField struct {
	index int
	doc   bool // what was put in force, which published reads where it is JSON
	plan  *tellPlan
}

type tellSort byte

const (
	tellNothing tellSort = iota
	tellText
	tellPerson
	tellMachine
	tellPointed
	tellHeld // by an interface: what it is shows in each value
	tellFields
	tellList
	tellMap
)

var (
	tellPlans    sync.Map   // by type
	tellPlanning sync.Mutex // a plan is seen by others once those it leads to are whole
)

var (
	jsonWriter  = reflect.TypeFor[json.Marshaler]()
	textWriter  = reflect.TypeFor[encoding.TextMarshaler]()
	personal    = reflect.TypeFor[record.Personal]()
	plainText   = reflect.TypeFor[string]()
	personID    = reflect.TypeFor[procedures.PersonID]()
	machineID   = reflect.TypeFor[procedures.EquipmentID]()
	publication = reflect.TypeFor[Publication]()
)

func tellPlanOf(t reflect.Type) *tellPlan {
	if known, ok := tellPlans.Load(t); ok {
		return known.(*tellPlan)
	}
	tellPlanning.Lock()
	defer tellPlanning.Unlock()
	made := map[reflect.Type]*tellPlan{}
	p := tellPlanWith(made, t)
	for t, one := range made {
		tellPlans.Store(t, one)
	}
	return p
}

// tellPlanWith is the plan of t, with those being made: a type may lead to itself.
// One that does is looked into though nothing may be found.
func tellPlanWith(made map[reflect.Type]*tellPlan, t reflect.Type) *tellPlan {
	if known, ok := tellPlans.Load(t); ok {
		return known.(*tellPlan)
	}
	if p := made[t]; p != nil {
		return p
	}
	p := &tellPlan{}
	made[t] = p
	switch t.Kind() {
	case reflect.Interface:
		p.sort = tellHeld
	case reflect.String:
		switch t {
		case personID:
			p.sort = tellPerson
		case machineID:
			p.sort = tellMachine
		case personal, plainText:
			p.sort = tellText
		}
	case reflect.Pointer:
		p.leadsTo(made, tellPointed, t.Elem())
	case reflect.Slice, reflect.Array:
		if t.Elem().Kind() != reflect.Uint8 { // JSON of its own, or bytes
			p.leadsTo(made, tellList, t.Elem())
		}
	case reflect.Map:
		p.sort = tellMap
		p.key, p.elem = tellPlanWith(made, t.Key()), tellPlanWith(made, t.Elem())
		if p.key.sort == tellNothing && p.elem.sort == tellNothing {
			p.sort = tellNothing
		}
	case reflect.Struct:
		if !ownWords(t) {
			p.within(made, t)
		}
	}
	return p
}

func (p *tellPlan) leadsTo(made map[reflect.Type]*tellPlan, sort tellSort, elem reflect.Type) {
	p.sort = sort
	if p.elem = tellPlanWith(made, elem); p.elem.sort == tellNothing {
		p.sort = tellNothing
	}
}

// within plans the fields of a struct.
func (p *tellPlan) within(made map[reflect.Type]*tellPlan, t reflect.Type) {
	p.sort = tellFields
	for i := range t.NumField() {
		f := t.Field(i)
		if !f.IsExported() && !f.Anonymous || f.Tag.Get("json") == "-" {
			continue
		}
		if inner := tellPlanWith(made, f.Type); inner.sort != tellNothing {
			p.fields = append(p.fields, tellField{i, t == publication && f.Name == "Doc", inner})
		}
	}
	if len(p.fields) == 0 {
		p.sort = tellNothing
	}
}

// ownWords tells whether a struct is a single value, such as a time.
func ownWords(kind reflect.Type) bool {
	return kind.Implements(jsonWriter) || kind.Implements(textWriter)
}

// add gathers what stands in a value.
func (t *telling) add(value any) {
	if v := reflect.ValueOf(value); v.IsValid() {
		t.gather(tellPlanOf(v.Type()), v)
	}
}

func (t *telling) gather(p *tellPlan, v reflect.Value) {
	switch p.sort {
	case tellText:
		t.text(v.String())
	case tellPerson:
		if id := procedures.PersonID(v.String()); id != "" && !endsWith(t.People, id) {
			t.People = append(t.People, id)
		}
	case tellMachine:
		if id := procedures.EquipmentID(v.String()); id != "" && !endsWith(t.Equipment, id) {
			t.Equipment = append(t.Equipment, id)
		}
	case tellPointed:
		if !v.IsNil() {
			t.gather(p.elem, v.Elem())
		}
	case tellHeld:
		if !v.IsNil() {
			t.gather(tellPlanOf(v.Elem().Type()), v.Elem())
		}
	case tellFields:
		for i := range p.fields {
			f := &p.fields[i]
			if inner := v.Field(f.index); !f.doc || !json.Valid([]byte(inner.String())) {
				t.gather(f.plan, inner)
			}
		}
	case tellList:
		for i := range v.Len() {
			t.gather(p.elem, v.Index(i))
		}
	case tellMap:
		for _, key := range v.MapKeys() {
			t.gather(p.key, key)
			t.gather(p.elem, v.MapIndex(key))
		}
	}
}

// endsWith tells of the one that comes again and again, as who answered does.
func endsWith[T comparable](list []T, one T) bool { return len(list) > 0 && list[len(list)-1] == one }

func (t *telling) text(text string) {
	if text != "" && !slices.Contains(t.Texts, text) && !machineMade.MatchString(text) {
		t.Texts = append(t.Texts, text)
	}
}
