package server

import (
	"fmt"
	"testing"
)

// A page left while it opens the store for the first time, and kept asleep by the
// browser for going back, must not hold up the store of the next page.
func TestTheStoreOpensBesideAPageThatSleepsOpeningIt(t *testing.T) {
	t.Parallel()
	m := newMill(t)
	m.shortList()
	r := onAPhone(t, m, false, "ada")
	// The first page is never through with it.
	r.before(`if (location.pathname === "/lifts/new") { const open = IDBFactory.prototype.open;
	  IDBFactory.prototype.open = function (...how) { const asked = open.apply(this, how);
	    asked.addEventListener("upgradeneeded", () => { const slow = asked.result.createObjectStore("slow"), on = () => (slow.count().onsuccess = on); on(); globalThis.opening = true; });
	    return asked; } }`)
	r.is("this one has", "outbox.all('kept').then(() => true)")
	r.is("and no more", "new Promise((done) => (indexedDB.deleteDatabase('stillsaw').onsuccess = () => done(true)))")
	r.b.open("/lifts/new")
	r.is("it opens the store", "globalThis.opening")
	r.script(`location.assign("/inspections/new?list=short")`)
	r.is("the next page is there", "location.pathname === '/inspections/new' && globalThis.outbox")
	r.is("its store opens", `outbox.put("kept", { key: "probe" }).then(() => outbox.get("kept", "probe"))`)
}

// What was kept for somebody else is shown to nobody, whichever of the two the
// browser has first.
func TestTheWorkerShowsOnesOwnPagesInWhateverOrderTheyAreKept(t *testing.T) {
	t.Parallel()
	m := newMill(t)
	r := onAPhone(t, m, true, "ada")
	r.b.open("/phone")
	r.knows()
	r.is("hers is kept after another's", fmt.Sprintf(`(async () => {
	  const own = "pages:%s", was = await caches.open(own), mine = await Promise.all((await was.keys()).map(async (k) => [k, await was.match(k)]));
	  await caches.delete(own);
	  const other = await caches.open("pages:another"), hers = await caches.open(own), page = (text) => new Response("<html lang=fr><head><title>x</title></head><body data-person=another><main><h1>" + text + "</h1></main></body></html>", { headers: { "Content-Type": "text/html", Kept: "1" } });
	  for (const to of ["/", "/phone", "/lifts/chart"]) await other.put(to, page("of another"));
	  for (const [k, v] of mine) await hers.put(k, v);
	  const names = (await caches.keys()).filter((n) => n.startsWith("pages:"));
	  return mine.length > 2 && names[0] === "pages:another" && names[1] === own;
	})()`, m.people["ada"].ID))
	r.way.set(refuses)
	for _, path := range []string{"/", "/lifts/chart", "/due", "/nowhere"} {
		r.b.open(path)
		r.is("it is hers: "+path, fmt.Sprintf(`document.body.dataset.kept && document.body.dataset.person === %q && document.documentElement.lang === "en"`, m.people["ada"].ID))
	}
}
