// A check goes on without contact. Its other steps are fetched while there is
// some; leaving one step for another then swaps main, keeps the browser's history
// and puts back what was typed (draft.js). How far the check has come is counted
// here from what is typed. The rules are the server's: it looks at all of it again.
"use strict";
globalThis.walk = (() => {
  const pages = new Map(); // "/inspections/7?state=stopped" → the page as it last came
  const parse = (text) => new DOMParser().parseFromString(text, "text/html");
  const steps = (page) => [...page.querySelectorAll(".ways a[href*='?state=']")];
  const keyOf = (href) => {
    const to = new URL(href, location.href), state = to.searchParams.get("state");
    return state && to.pathname + "?state=" + state;
  };
  const here = () => keyOf(location.href) || keyOf(document.querySelector(".ways a[aria-current]")?.href || "");
  // The bare address shows the step where answers are missing, which moves on; this page does not.
  if (!keyOf(location.href) && here()) history.replaceState(null, "", here() + location.hash);
  const signing = (key) => key?.endsWith("=sign");

  // onShelf is a step as it was kept before this page was opened.
  const onShelf = async (as) => {
    const shelf = globalThis.caches && (await caches.open("pages:" + document.body.dataset.person)), kept = await shelf?.match(as);
    if (kept) pages.set(as, parse(await kept.text()));
  };
  const fetched = async (href, as = keyOf(href)) => {
    const reply = outbox.contact && as ? await outbox.ask(href, {}, 6000) : null;
    if (!reply && as && !pages.has(as)) await onShelf(as).catch(() => {});
    if (!reply?.ok || reply.redirected) return null;
    await outbox.keepPage(as, reply.text, document.body.dataset.person).catch(() => {});
    pages.set(as, parse(reply.text));
    return pages.get(as);
  };
  // prefetch gets the other steps; those of a check not yet begun are kept under
  // the address it will have.
  const prefetch = async () => {
    const start = document.querySelector("form[data-begins]");
    for (const state of start?.dataset.states.split(" ") || [])
      await fetched(start.dataset.begins + "?list=" + encodeURIComponent(start.elements.list.value) + "&state=" + state, start.dataset.begins + "?state=" + state);
    for (const a of steps(document)) if (!pages.has(keyOf(a.href))) await fetched(a.href);
    await count();
  };

  const show = async (page, to, push) => {
    document.getElementById("main").replaceWith(document.importNode(page.getElementById("main"), true));
    document.title = page.title;
    document.body.dataset.seen = page.body.dataset.seen || 0;
    if (push) history.pushState(null, "", to);
    await drafts.begin();
    await count();
    document.dispatchEvent(new Event("turned"));
    const place = to.hash ? document.getElementById(decodeURIComponent(to.hash.slice(1))) : null;
    if (place) place.scrollIntoView();
    else scrollTo(0, 0);
    const first = place?.querySelector(":scope > fieldset") || place || document.querySelector("h1");
    first.tabIndex = -1;
    first.focus({ preventScroll: true });
  };
  let turns = 0;
  // turn shows another step: as the server has it, else as the phone has it.
  const turn = async (href, push = true) => {
    const to = new URL(href, location.href), mine = ++turns;
    const page = ((await drafts.flush()) && (await fetched(to))) || pages.get(keyOf(to));
    if (mine !== turns) return;
    if (page) await show(page, to, push);
    else if (outbox.contact || navigator.serviceWorker?.controller) location.assign(to);
    else document.getElementById("lost")?.scrollIntoView(); // this step had not come yet: what is open stays
  };

  document.addEventListener("click", (event) => {
    const a = event.target.closest("main a[href]");
    if (event.defaultPrevented || !a || event.button || event.ctrlKey || event.metaKey || event.shiftKey || !steps(document).length) return;
    if (!keyOf(a.href) || new URL(a.href).pathname !== new URL(steps(document)[0].href).pathname) return;
    event.preventDefault();
    turn(a.href);
  });
  addEventListener("popstate", () => steps(document).length && here() && turn(location.href, false));

  // "Keep these and go on": the server's answer comes into this page; without one
  // the phone keeps the answers and goes on by itself.
  document.addEventListener("submit", async (event) => {
    const form = event.target, button = event.submitter;
    if (event.defaultPrevented || !form.dataset.autosave) return;
    event.preventDefault();
    if (form.dataset.busy) return;
    form.dataset.busy = "yes";
    const draft = (await drafts.keep(form)) && (await outbox.get("drafts", drafts.key(form)).catch(() => null)); // else it may be an older one
    const sent = draft || { key: drafts.key(form), at: outbox.tick(), saved: Date.now(), submission: outbox.uuid(), fields: drafts.typed(form), files: drafts.photos(form) };
    const body = outbox.pack(sent);
    if (button?.name) body.append(button.name, button.value);
    const reply = outbox.contact ? await outbox.ask(form.getAttribute("action"), { method: "POST", body }, 20000) : null;
    delete form.dataset.busy;
    if (reply && !(reply.ok || reply.status === 422)) { // not an answer of this page: the browser shows it; what was typed stays kept
      form.removeAttribute("data-autosave");
      return form.requestSubmit(button);
    }
    const [state, station] = (button?.value || "").split("."), address = new URL(steps(document)[0].href).pathname;
    if (!reply) return turn(address + (state ? "?state=" + state : location.search) + (station ? "#s" + station : ""));
    const page = parse(reply.text);
    if (reply.ok) {
      const left = here();
      await outbox.settle(sent, true);
      const to = new URL(reply.url), more = to.searchParams.get("done") === "asks-more";
      if (!page.querySelector(".ways")) return location.assign(to);
      to.search = "?state=" + to.searchParams.get("state");
      if (!more && station) to.hash = "s" + station;
      pages.set(keyOf(to), page);
      await show(page, to, true);
      if (left !== keyOf(to)) fetched(left).then(count); // its photos stand in the new page only
      if (more) [...document.querySelectorAll("[data-ask]")].find((ask) => !standing(ask).done)?.scrollIntoView();
    } else {
      refuse(page);
      await show(page, new URL(location.href), false);
      document.querySelector(".wrong")?.scrollIntoView();
    }
  });

  const refused = new Map(); // item → its answer, where the mill's computer did not take that
  const saidOf = (ask) => {
    const fields = [...ask.querySelectorAll("input, textarea, select")].filter((f) => !["hidden", "file"].includes(f.type) && (!["radio", "checkbox"].includes(f.type) || f.checked));
    return JSON.stringify(fields.map((f) => [f.name, f.value]));
  };
  // refuse notes what stands in a page that came back; answered otherwise it may be taken.
  const refuse = (page) => {
    for (const ask of page.querySelectorAll("[data-ask]")) {
      refused.delete(ask.id);
      if (ask.querySelector(".bad, [aria-invalid]")) refused.set(ask.id, saidOf(ask));
    }
  };
  // standing is how one item is answered, as far as a phone can tell.
  const standing = (ask) => {
    const id = ask.id.slice(2), at = (name) => ask.querySelector('[name="' + CSS.escape(id + name) + '"]');
    const value = (name) => (at(name)?.type === "radio" ? ask.querySelector('[name="' + CSS.escape(id + name) + '"]:checked')?.value || "" : at(name)?.value?.trim() || "");
    const asked = [".number", ".text", ".person"].filter(at), photo = at(".photo");
    let result = value("");
    if (!result && asked.some(value)) result = "ok";
    const pictured = !photo || photo.closest(".if-defect") || photo.files?.length || photo.hasAttribute("data-have") || ask.querySelector("img.photo[src^='/photos/']");
    const noted = !!value(".note"), mend = value(".severity") === "mend";
    const done = refused.get(ask.id) === saidOf(ask) ? false : result === "ok" ? asked.every(value) && !!pictured : result === "not-checked" ? noted : result === "defect" && noted && (!mend || value(".stop_gap") && value(".mend_by"));
    return { id, result, note: value(".note"), number: value(".number"), text: value(".text"), done: !!done, stops: !mend,
      prompt: ask.querySelector("legend")?.textContent || id, station: ask.closest("section")?.querySelector("h2")?.firstChild?.textContent.trim() || "" };
  };
  // met tells whether what an item waits for was answered, in doubt that it was.
  const met = (when, given) => {
    const [, ids, test, wanted] = /^(\S+) (result|choice|number)=(.*)$/s.exec(when) || [];
    return (ids || "").split(",").some((id) => {
      const a = given.get(id);
      if (!a?.result) return false;
      if (test === "result") return a.result === wanted || a.result === "not-checked";
      if (test === "choice") return !a.text || a.text === wanted;
      const number = a.number ? +a.number.replace(",", ".") : NaN, [from, to] = wanted.split("..");
      return isNaN(number) || !(from && number < from) && !(to && number > to);
    });
  };
  // branch brings up in a page what the answers so far ask more.
  const branch = (page, given) => {
    for (const template of page.querySelectorAll("template[data-asks]")) {
      const there = page.getElementById("f-" + template.dataset.asks), asks = met(template.dataset.when, given);
      if (there) there.hidden = !asks && !standing(there).result;
      else if (asks) drafts.bring(template);
    }
  };

  // states are all steps but the signing, as they are answered on this phone.
  const states = async () => {
    const given = new Map(), all = [];
    for (const a of steps(document)) {
      const key = keyOf(a.href), page = key === here() ? document : pages.get(key);
      if (signing(key) || !page) continue;
      const form = page.querySelector("form[data-draft]");
      if (page !== document && form) {
        const draft = await outbox.get("drafts", document.body.dataset.person + ":" + form.dataset.draft).catch(() => null);
        if (draft?.fields.length) drafts.put(form, draft); // taken or not: the page may be older than either
      }
      let items, before;
      do { // what an answer brings up may bring up more
        before = page.querySelectorAll("[data-ask]:not([hidden])").length;
        for (const item of (items = [...page.querySelectorAll("[data-ask]:not([hidden])")].map(standing))) given.set(item.id, item);
        branch(page, given);
        items = [...page.querySelectorAll("[data-ask]:not([hidden])")].map(standing);
      } while (items.length > before);
      for (const item of items) given.set(item.id, item);
      all.push({ key, page, items });
    }
    return all;
  };
  const filled = (format, ...numbers) => format.replace(/111|222/g, (n) => numbers[n === "111" ? 0 : 1]);
  const count = async () => {
    const words = (globalThis.words || {}), ways = steps(document);
    if (!ways.length || !document.querySelector("main [data-draft], main form[data-offline-only]")) return;
    const all = await states(), whole = ways.filter((a) => !signing(keyOf(a.href))).every((a) => all.some((s) => s.key === keyOf(a.href)));
    const done = (items) => items.filter((item) => item.done).length;
    if (!words.step) return;
    for (const { key, page, items } of all) {
      const a = ways.find((way) => keyOf(way.href) === key);
      a.querySelector("span").textContent = filled(words.step, done(items), items.length);
      if (page === document) for (const section of page.querySelectorAll(".station")) {
        const own = [...section.querySelectorAll("[data-ask]:not([hidden])")].map(standing), small = section.querySelector("h2 small");
        if (small) small.textContent = filled(words.answered, done(own), own.length);
      }
    }
    const items = all.flatMap((s) => s.items), bar = document.querySelector(".progress progress");
    if (whole && bar) {
      bar.max = items.length;
      bar.value = done(items);
      document.querySelector(".progress span").textContent = filled(words.answered, done(items), items.length);
    }
    if (signing(here())) ending(all, whole);
  };
  // ending lists on the last step what the phone knows, where the server's own
  // lists may be old, and lets the check be finished unsigned.
  const ending = (all, whole) => {
    const finish = document.querySelector("form[data-offline-only]"), without = !outbox.contact;
    for (const part of document.querySelectorAll("[data-with-contact]")) part.hidden = without;
    if (!finish) return;
    const open = all.flatMap((s) => s.items.filter((i) => !i.done).map((i) => ({ ...i, key: s.key })));
    const told = all.flatMap((s) => s.items.filter((i) => i.done && i.result !== "ok").map((i) => ({ ...i, key: s.key })));
    const line = (i) => {
      const li = document.createElement("li"), a = document.createElement("a");
      a.href = i.key + "#f-" + i.id;
      a.textContent = i.prompt;
      li.append(a, i.note ? ": " + i.note : "");
      return li;
    };
    for (const [name, items] of [["open", open], ["found", told.filter((i) => i.result === "defect")], ["skipped", told.filter((i) => i.result !== "defect")]]) {
      const part = document.querySelector('[data-phone="' + name + '"]');
      if (!part) continue;
      part.hidden = !without || !items.length;
      part.querySelector("ul").replaceChildren(...items.map(line));
    }
    finish.hidden = !without || !whole || open.length > 0;
  };

  let again;
  const soon = (event) => {
    if (!event.target.form?.dataset.draft && event.type !== "restored") return;
    clearTimeout(again);
    again = setTimeout(count, 150);
  };
  for (const kind of ["input", "change", "restored"]) document.addEventListener(kind, soon);
  addEventListener("contact", () => (count(), outbox.contact && prefetch()));
  // The last step shows what the server holds, so it comes anew when that moved on.
  addEventListener("gave", async ({ detail }) => {
    const [way] = steps(document);
    if (signing(here()) && detail.taken && way && detail.action.startsWith(new URL(way.href).pathname) && !(await outbox.waits()).some((t) => !t.said && t.person === detail.person)) turn(location.href, false);
  });
  return { turn, prefetch, count, pages };
})();
