package server

import (
	"bytes"
	"encoding/json"
	"fmt"

	"github.com/gofiber/fiber/v2"

	"stillsaw/procedures"
	"stillsaw/procedures/plain"
	"stillsaw/server/store"
	"stillsaw/views"
)

// phoneRoutes is what the phone itself asks for: the worker that keeps pages, a
// sign that the server is there, and the page of what the phone still has to give.
func (s *Server) phoneRoutes() {
	s.app.Get("/sw.js", s.worker)
	s.app.Get("/contact", func(c *fiber.Ctx) error { return c.SendStatus(fiber.StatusNoContent) })
	s.get("/phone", anyone, s.showPhone)
}

// worker is the service worker: served from the root, since it may keep only what
// lies below its own address, and never kept itself beyond asking.
func (s *Server) worker(c *fiber.Ctx) error {
	names, version := s.assets.Addresses()
	list, err := json.Marshal(names)
	if err != nil {
		return err
	}
	var out bytes.Buffer
	fmt.Fprintf(&out, "const version = %q, assets = %s;\n", version, list)
	scripts, err := s.assets.Text("outbox.js", "worker.js")
	if err != nil {
		return err
	}
	out.Write(scripts)
	c.Set(fiber.HeaderContentType, "text/javascript; charset=utf-8")
	c.Set(fiber.HeaderCacheControl, "no-cache")
	return c.Send(out.Bytes())
}

type phonePage struct {
	*views.Frame
	Keeps   []views.Place // what to have without contact
	Waiting string        // address of what waits for signatures; "" for somebody who signs nothing
}

// showPhone shows what only the phone knows; its scripts fill it in. The same
// page tells them which others to keep.
func (s *Server) showPhone(v *visit) error {
	page := phonePage{Frame: v.frame("On this phone")}
	keep := func(href string, text plain.Sentence) {
		page.Keeps = append(page.Keeps, views.Place{Href: href, Text: text})
	}
	keep("/help/emergency", plain.Say("Emergency"))
	if v.person.ID == "" {
		return v.show("phone", page, nil)
	}
	keep("/", plain.Say("May it run?"))
	keep("/phone", plain.Say("On this phone"))
	keep("/lifts/chart", plain.Say("Chart: the longest piece by thickness and kind of wood"))
	if v.person.Works() {
		page.Waiting = "/inspections/waiting"
		keep("/lifts/new", plain.Say("Check a lift"))
		keep("/stop-it", plain.Say("Stop it"))
		if err := v.listsToKeep(keep); err != nil {
			return err
		}
	}
	published, err := v.desk.InForce(v.ctx(), store.Procedures)
	if err != nil {
		return err
	}
	for _, p := range published {
		procedure, err := v.desk.Procedure(v.ctx(), procedures.ProcedureID(p.ID), p.Version)
		if err != nil {
			return err
		}
		keep("/procedures/"+p.ID+"/placard", plain.Say("Placard: %s", procedure.Title))
	}
	return v.show("phone", page, nil)
}

// listsToKeep are the checks due in this shift or the next, so that one can be
// begun without contact.
func (v *visit) listsToKeep(keep func(href string, text plain.Sentence)) error {
	facts, err := v.desk.Facts(v.ctx(), v.now)
	if err != nil {
		return err
	}
	const most = 4 // pages of a list are the largest of those kept
	next := facts.Upcoming(v.now)
	for _, coming := range next[:min(most, len(next))] {
		list, err := v.desk.List(v.ctx(), coming.List, 0)
		if err != nil {
			return err
		}
		keep("/inspections/new?list="+string(list.ID), plain.Say("Check: %s", list.Title))
	}
	return nil
}
