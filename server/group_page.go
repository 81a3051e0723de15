package server

import (
	"cmp"
	"net/url"
	"slices"
	"strconv"
	"strings"
	"time"

	"github.com/gofiber/fiber/v2"

	"stillsaw/checklists"
	"stillsaw/procedures/plain"
	"stillsaw/server/store"
	"stillsaw/views"
)

const (
	// groupKnown is how long a standing is believed: told every five minutes at least,
	// it is missing then.
	groupKnown = 10 * time.Minute

	groupShown   = 100 // mills on a page
	groupRefresh = 60  // seconds, without scripts
	groupAskMost = 100 // letters of a name to look for
)

type groupPage struct {
	*views.Frame
	Q             string
	Mills         []groupMill
	None          plain.Sentence // in place of mills
	Before, After string         // addresses of other pages; "" where there is none
	First, Last   int
	Found         int
	Languages     *views.Languages
}

// groupMill is a mill on the page.
type groupMill struct {
	Name, Host, Href string
	Badge            views.Badge
	Said             []plain.Sentence // its machines by number, or that it is not known, since when
	Holds            []plain.Sentence
	More             []plain.Sentence

	order int
}

// show is the page, for readers alone.
func (g *group) show(c *fiber.Ctx) error {
	c.Set(fiber.HeaderCacheControl, "no-store")
	reader, err := g.reader(c)
	if err != nil {
		return err
	}
	if reader == "" {
		return c.Redirect("/sign-in", fiber.StatusSeeOther)
	}
	all, err := g.m.config.DB.GroupMills(c.UserContext())
	if err != nil {
		return err
	}
	page := groupPage{Frame: g.around(c, reader, plain.Sentence{}), Q: short(strings.TrimSpace(c.Query("q")), groupAskMost)}
	page.Refresh = groupRefresh
	stopped, unknown := 0, 0
	for _, one := range all {
		line := g.line(c, page.Frame, one)
		switch line.order {
		case 0:
			stopped++
		case 1:
			unknown++
		}
		if page.wants(line) {
			page.Mills = append(page.Mills, line)
		}
	}
	page.Title = plain.Say("Mills: %[1]d. Held by more than a check: %[2]d. Not known: %[3]d", len(all), stopped, unknown)
	slices.SortStableFunc(page.Mills, func(a, b groupMill) int {
		return cmp.Or(cmp.Compare(a.order, b.order), strings.Compare(strings.ToLower(a.Name), strings.ToLower(b.Name)))
	})
	switch {
	case len(all) == 0:
		page.None = plain.Say("No mill lies in this database yet.")
	case len(page.Mills) == 0:
		page.None = plain.Say("No mill has that in its name.")
	}
	at, _ := strconv.Atoi(c.Query("page"))
	page.turn(at)
	page.Languages = g.wall.languages(page.Frame, "/")
	return g.render(c, "group", page)
}

// short is text cut to so many letters.
func short(text string, most int) string {
	if letters := []rune(text); len(letters) > most {
		return string(letters[:most])
	}
	return text
}

func (p groupPage) wants(m groupMill) bool {
	q := strings.ToLower(p.Q)
	return strings.Contains(strings.ToLower(m.Name), q) || strings.Contains(m.Host, q)
}

// turn leaves the mills of one page, the first being 1.
func (p *groupPage) turn(at int) {
	p.Found = len(p.Mills)
	last := max(1, (p.Found+groupShown-1)/groupShown)
	at = min(max(at, 1), last)
	address := func(to int) string {
		if to < 1 || to > last {
			return ""
		}
		query := url.Values{"page": {strconv.Itoa(to)}}
		if p.Q != "" {
			query.Set("q", p.Q)
		}
		return "/?" + query.Encode()
	}
	p.Before, p.After = address(at-1), address(at+1)
	from, to := (at-1)*groupShown, min(at*groupShown, p.Found)
	p.Mills, p.First, p.Last = p.Mills[from:to], from+1, to
}

// line is a mill as it stands, or that it is not known how: what was told long ago is
// not said again.
func (g *group) line(c *fiber.Ctx, f *views.Frame, one store.GroupMill) groupMill {
	s := one.Standing
	line := groupMill{Name: cmp.Or(s.Mill, one.Host), Host: one.Host, Href: g.addressOf(c, one.Host) + "/", Badge: f.StatusBadge(checklists.NotKnown).AsSmall(), order: 1}
	age := f.Now.Sub(one.At)
	switch {
	case one.At.IsZero():
		line.Said = []plain.Sentence{plain.Say("Nothing was heard of this mill yet.")}
		return line
	case age > groupKnown || age < -groupKnown:
		line.Said = []plain.Sentence{plain.Say("Nothing was heard of this mill since %s UTC.", one.At)}
		return line
	}
	status := s.Status()
	line.Badge = f.StatusBadge(status).AsSmall()
	switch {
	case s.Stopped():
		line.order = 0
	case status != checklists.NotKnown:
		line.order = 2
	}
	for _, count := range []struct {
		n    int
		said plain.Sentence
	}{
		{s.MayRun, plain.Say("may run: %d", s.MayRun)}, {s.RunCheck, plain.Say("run check only: %d", s.RunCheck)},
		{s.Held, plain.Say("held: %d", s.Held)}, {s.Unknown, plain.Say("not known: %d", s.Unknown)},
	} {
		if count.n > 0 {
			line.Said = append(line.Said, count.said)
		}
	}
	if len(line.Said) == 0 {
		line.Said = append(line.Said, plain.Say("Not known: no equipment is entered"))
	}
	for _, held := range s.Holds {
		var by []plain.Sentence
		for _, kind := range held.By {
			by = append(by, kind.Words())
		}
		line.Holds = append(line.Holds, plain.Say("%[1]s: %[2]s", held.Kind.Words(), by))
	}
	line.More = []plain.Sentence{
		plain.Say("open defects that stop: %d", s.Stop), plain.Say("to mend: %d", s.Mend), plain.Say("checks overdue: %d", s.Overdue), plain.Say("entries on the record: %d", s.Entries),
	}
	if !s.Last.IsZero() {
		line.More = append(line.More, plain.Say("the newest made %s ago", max(time.Minute, f.Now.Sub(s.Last).Truncate(time.Minute))))
	}
	return line
}
