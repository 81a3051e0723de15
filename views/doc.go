// Package views is everything a person looks at: page templates, the parts they
// are put together from, one stylesheet, small scripts and the words.
//
// # How to write a page
//
// A page is one file, pages/<name>.html. The whole file is the body of the main
// element; the layout around it prints the heading from Frame.Title, what was
// wrong with the form, the menu and "stop it". Its data is a struct of its own,
// no map, which embeds a *Frame, so that {{.T "…"}} and the like work:
//
//	type liftPage struct {
//		*views.Frame
//		Form    liftForm       // strings as typed
//		Verdict *lift.Verdict  // nil before there is one
//	}
//
// Rules of the house:
//
//   - Every word goes through the catalogue: {{.T "Half-length mark at %s" .Mark}}
//     with a literal English format, or {{.Say .Sentence}} for what the rules say.
//     Inside range and with use {{$.T "…"}}. A test collects the literals.
//   - Numbers with a unit go through .Length, .Mass, .Force, .Angle, or as a
//     quantity into .T; times through .When, .Clock, .Day, .Exact, .Ago, .Span.
//   - Parts take a struct made by a method of Frame:
//     {{template "field" (.TextField "length" (.T "Length") .Form.Length)}}.
//     The problem beside an input is found in Frame.Problems by the input's name.
//   - No style attribute, no inline script, no on… handler: the content policy
//     drops them. A script finds its work by data- attributes, and the page works
//     without it:
//     form data-into="#part" swaps that part of the reply in;
//     such a form with data-instant is checked again as its numbers change;
//     form data-draft="key" keeps what was typed on the phone, photos too, until a
//     page comes with Frame.Sent equal to the key (data-saved: milliseconds of the
//     server's own newer copy); with data-autosave each change is also sent to the
//     form's action;
//     form data-outbox="what it is" waits on the phone where it can't be sent, and
//     goes later (data-outbox-to: to another address then); never one with a PIN;
//     form data-needs-contact="/placard" says without contact that it needs it;
//     [data-without-contact] is shown without, [data-with-contact] with contact;
//     after main was swapped the document hears "turned";
//     an element with id and data-live is fetched anew when the record moves;
//     data-until="{{.Millis .End}}" data-over="{{.T "…"}}" counts down.
//   - The first thing on a page is its answer, then the reasons, then what clears
//     them. A hazard word (danger, warning, caution, notice) is for hazards only.
//
// A handler renders it with c.Render("lift", liftPage{…}) once fiber has the
// [Engine]. Add the page's empty and full data to the tests of the screen;
// [Pages] lists what must be there.
package views
