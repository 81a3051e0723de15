package server

import (
	"cmp"
	"net/url"
	"time"

	"github.com/gofiber/fiber/v2"

	"stillsaw/procedures"
	"stillsaw/procedures/plain"
	"stillsaw/server/store"
)

func lockOperations() []operation {
	return []operation{
		reads("listLocks", "/locks", "/locks", "The locks for locking out; to an operator the own ones", listLocksForAPI),
		writes("addLock", fiber.MethodPost, "/locks", "/locks/new", "Enter a lock in the register. It puts nothing on", addLockForAPI),
		writes("changeLock", fiber.MethodPut, "/locks/{lock}", "/locks/edit", "Change what stands of a lock, by its number", changeLockForAPI),
	}
}

type apiLock struct {
	Number    string              `json:"number"`
	Mark      string              `json:"mark" says:"sent back with a change"`
	Kind      string              `json:"kind"`
	Colour    string              `json:"colour,omitzero"`
	Owner     procedures.PersonID `json:"owner"`
	Condition string              `json:"condition"`
	OnlyHere  bool                `json:"only_here" says:"used for locking out and nothing else"`
	Issued    time.Time           `json:"issued,omitzero"`
	Retired   bool                `json:"retired"`
	Against   []string            `json:"against" says:"what keeps its owner from putting it on"`
}

func listLocksForAPI(c *call) (items[apiLock], error) {
	register, err := c.desk.Locks(c.ctx())
	if err != nil {
		return items[apiLock]{}, err
	}
	std, err := c.desk.Program(c.ctx())
	var shown []procedures.LockItem
	for _, item := range register {
		if c.readsAll() || item.Owner == c.person.ID {
			shown = append(shown, item)
		}
	}
	return itemsOf(shown, func(l procedures.LockItem) apiLock {
		return apiLock{l.Number, store.Mark(l), string(l.Kind), l.Colour, l.Owner, string(l.Condition), l.OnlyHere, l.Issued, !l.Retired.IsZero(), each(l.OffStandard(std), plain.Sentence.String)}
	}), err
}

// apiLockFields are what is entered of a lock.
type apiLockFields struct {
	Kind      string              `json:"kind" oneof:"keyed-padlock|combination"`
	Colour    string              `json:"colour,omitzero"`
	Owner     procedures.PersonID `json:"owner,omitzero" says:"left out: who signs, of a change who it was; locks of others a supervisor enters"`
	OnlyHere  bool                `json:"only_here"`
	Condition string              `json:"condition" oneof:"good|bad"`
	Issued    string              `json:"issued,omitzero" says:"the day; left out of a change: as it was" format:"date"`
}

func (c *call) lockItem(number string, owner procedures.PersonID, b apiLockFields) (procedures.LockItem, error) {
	issued, err := c.dayOf("issued", b.Issued)
	return procedures.LockItem{Number: number, Kind: procedures.LockKind(b.Kind), Colour: b.Colour, Owner: cmp.Or(b.Owner, owner), OnlyHere: b.OnlyHere, Condition: procedures.Condition(b.Condition), Issued: issued}, err
}

type apiLockPost struct {
	signature
	Number string `json:"number"`
	apiLockFields
}

func addLockForAPI(c *call, b apiLockPost) (apiDone, error) {
	item, err := c.lockItem(b.Number, c.person.ID, b.apiLockFields)
	if err != nil {
		return apiDone{}, err
	}
	return done(b.Number, c.desk.AddLock(c.ctx(), c.submission(), item, c.person, c.now))
}

type apiLockPut struct {
	signature
	seen
	apiLockFields
	Retire bool `json:"retire,omitzero" says:"it is no longer used"`
}

func changeLockForAPI(c *call, b apiLockPut) (apiDone, error) {
	number, err := url.PathUnescape(c.Params("lock"))
	if err != nil {
		return apiDone{}, store.ErrNotFound
	}
	register, err := c.desk.Locks(c.ctx())
	if err != nil {
		return apiDone{}, err
	}
	stored, known := procedures.FindLock(register, number)
	if !known || !c.readsAll() && stored.Owner != c.person.ID {
		return apiDone{}, store.ErrNotFound
	}
	item, err := c.lockItem(stored.Number, stored.Owner, b.apiLockFields)
	if err != nil {
		return apiDone{}, err
	}
	if b.Retire {
		item.Retired = c.now
	}
	return done(stored.Number, c.desk.EditLock(c.ctx(), c.submission(), b.Mark, item, c.person, c.now))
}
