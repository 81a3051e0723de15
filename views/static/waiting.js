// What waits on this phone (outbox.js): how much, in the bar; each thing with its
// time, those that need the person first; forms marked data-outbox, kept when they
// can't be sent. Says on the page when there is no contact, and keeps the pages
// that are needed then. Its words come with the page /phone.
"use strict";
(async () => {
  const body = document.body, person = body.dataset.person, build = document.currentScript?.src, parse = (text) => new DOMParser().parseFromString(text, "text/html");
  let touched = false, panel = null, source = document.querySelector("#togo") && document;
  const when = (at) => new Date(at).toLocaleString(document.documentElement.lang, { dateStyle: "short", timeStyle: "short" });
  const make = (tag, text, more) => Object.assign(document.createElement(tag), { textContent: text }, more);

  // Forms that may wait. What was sent and not answered is sent again under the
  // same submission id, with the same fields.
  const entry = (form, button, action) => ({
    id: outbox.uuid(), person, who: document.querySelector(".who")?.textContent, what: form.dataset.outbox || document.title.split(" · ")[0], page: location.pathname + location.search,
    action, at: outbox.tick(), fields: drafts.typed(form, button), files: drafts.photos(form),
  });
  const keep = async (form, thing) => {
    await outbox.put("outbox", thing);
    navigator.serviceWorker?.ready.then((worker) => worker.sync?.register("outbox")).catch(() => {});
    await show();
    if (form.dataset.begins) return walk.turn(form.dataset.begins + "?state=" + form.dataset.states.split(" ")[0]);
    const told = make("p", words.queued, { className: "card", tabIndex: -1 });
    told.setAttribute("role", "status");
    form.before(told);
    form.hidden = true;
    told.focus();
  };
  document.addEventListener("submit", async (event) => {
    const form = event.target, button = event.submitter, to = form.dataset.outboxTo, without = !outbox.contact;
    if (event.defaultPrevented || form.dataset.autosave) return;
    if (without && form.hasAttribute("data-needs-contact")) return event.preventDefault();
    if (to ? !without : !form.hasAttribute("data-outbox")) return; // with contact a lift is judged, not kept
    event.preventDefault();
    event.stopImmediatePropagation();
    if (form.dataset.busy) return;
    form.dataset.busy = "yes";
    const thing = entry(form, button, new URL(to || form.getAttribute("action") || location.href, location.href).pathname);
    if (to) thing.fields = thing.fields.filter(([name]) => !["signer", "keep"].includes(name));
    const reply = without ? null : await outbox.ask(thing.action, { method: "POST", body: outbox.pack(thing) }, 20000);
    delete form.dataset.busy;
    if (!reply) return keep(form, thing).catch(() => form.submit()); // nowhere to keep it: the browser says what it can
    if (reply.ok && reply.redirected) return location.assign(reply.url);
    if (reply.status === 422) {
      document.getElementById("main").replaceWith(document.importNode(parse(reply.text).getElementById("main"), true));
      document.querySelector(".wrong")?.scrollIntoView();
      return document.querySelector("[aria-invalid], .bad input")?.focus();
    }
    form.removeAttribute("data-outbox"); // any other answer the browser shows; the submission id keeps it one act
    form.requestSubmit(button);
  }, true);

  // Any other form leaves its page only for an answer: where the mill's computer is
  // not heard, or breaks off (then the worker says so), the page stays as it is with
  // all that was typed. Sent again it has the same submission id.
  let off = null; // the form that went
  const refused = new WeakSet(); // one that was not let go; pressed again it goes as it is
  const unsent = (form, said) => {
    document.querySelector(".unsent")?.remove();
    const told = make("p", said, { className: "problem unsent", tabIndex: -1 });
    told.setAttribute("role", "alert");
    form.after(told); // a form that needs contact may be hidden without
    told.focus();
  };
  document.addEventListener("submit", async (event) => {
    const form = event.target, button = event.submitter;
    if (event.defaultPrevented || form.getAttribute("method") !== "post" || form.getAttribute("action") === "/sign-out" || !words.notSent || off === form || refused.delete(form)) return;
    event.preventDefault();
    if (form.dataset.busy) return;
    form.dataset.busy = "yes";
    const there = await outbox.ask("/contact", { cache: "no-store" }, 15000, true);
    delete form.dataset.busy;
    if (!there?.ok) {
      refused.add(form);
      return form.hasAttribute("data-needs-contact") && !outbox.contact || unsent(form, words.notSent); // that one says so itself
    }
    document.querySelector(".unsent")?.remove();
    off = form;
    form.requestSubmit(button?.isConnected ? button : undefined);
    setTimeout(() => (off = null));
  });
  navigator.serviceWorker?.addEventListener("message", ({ data }) => {
    const form = [...document.forms].find((f) => new URL(f.getAttribute("action") || location.href, location.href).pathname === data.unsent && f.getAttribute("method") === "post");
    outbox.hear(false);
    if (form) unsent(form, words.noAnswer);
  });

  // What is still to go.
  const own = (thing) => !thing.person || thing.person === person; // or nobody's
  // Of somebody else's things this phone tells only how many there are.
  const others = (things) => [...new Set(things.filter((t) => !own(t)).map((t) => t.person))].map((id) => things.filter((t) => t.person === id)).map((of) =>
    make("li", words.others.replaceAll("111", of.find((t) => t.who)?.who || "—").replace("222", of.length), { className: "card" }));
  const line = (thing) => {
    const mine = thing.person === person, li = make("li", "", { className: "card" });
    li.append(make("p", thing.said ? words.needs + " " + thing.what : thing.what, { className: "reason" }), make("p", when(thing.at), { className: "since" }));
    if (thing.said) li.append(make("p", thing.said.text || words.trouble.replace("111", thing.said.status), { className: "problem" }), make("a", words.goOn, { href: thing.said.goOn || thing.page, className: "button" }));
    if (thing.said && mine) {
      const away = make("button", words.away, { type: "button" });
      away.dataset.hold = words.howToHold;
      away.addEventListener("click", async () => {
        const heading = away.closest("section").querySelector("h2");
        await outbox.remove(thing.key ? "drafts" : "outbox", thing.key || thing.id);
        await show();
        heading.tabIndex = -1;
        heading.focus();
      });
      li.append(" ", away);
    }
    return li;
  };
  const show = async () => {
    const all = (await outbox.waits()).filter((thing) => !(thing.key && thing.page === location.pathname + location.search && !thing.said && outbox.contact));
    const first = [...all.filter((t) => t.said), ...all.filter((t) => !t.said)];
    for (const root of [document.querySelector("main #togo"), panel?.querySelector("#togo")]) {
      const now = JSON.stringify(first.map((t) => [t.key || t.id, t.at, t.said]));
      if (!root || root.dataset.shows === now) continue; // nothing a person has hold of is swapped
      root.dataset.shows = now;
      root.querySelector("[data-list]").replaceChildren(...first.filter(own).map(line), ...others(first));
      root.querySelector("[data-nothing]").hidden = first.length > 0;
    }
    for (const place of document.querySelectorAll(".bar, nav.menu")) {
      let a = place.querySelector("a.togo");
      if (!a && first.length && words.count) {
        place.prepend((a = make("a", "", { className: "togo", href: "/phone" })));
        a.addEventListener("click", (event) => {
          if (!source || document.querySelector("main #togo")) return;
          event.preventDefault();
          open();
        });
      }
      if (!a) continue;
      a.hidden = !first.length;
      const need = all.filter((t) => t.said && own(t)).length;
      a.textContent = need ? words.needs + " " + need : words.count.replace("111", first.length); // short, so that "stop it" stays wide
    }
  };
  const open = async () => {
    panel ||= make("dialog", "", { className: "card panel" });
    const close = make("button", words.close, { type: "button" });
    close.addEventListener("click", () => panel.close());
    panel.replaceChildren(document.importNode(source.getElementById("togo"), true), close);
    body.append(panel);
    const heading = panel.querySelector("h2"); // not the button: the Enter that opened it would press that, too
    heading.tabIndex = -1;
    heading.autofocus = true;
    panel.showModal();
    await show();
  };

  // What a page without contact says.
  const mark = async () => {
    const without = !outbox.contact, heard = (await outbox.get("kept", "contact").catch(() => null))?.at, note = document.getElementById("lost");
    for (const part of document.querySelectorAll("[data-without-contact]")) part.hidden = !without;
    for (const part of document.querySelectorAll("[data-with-contact]")) part.hidden = without;
    for (const button of document.querySelectorAll("form[data-outbox-to] button[name=keep]")) button.hidden = without;
    for (const form of document.querySelectorAll("form[data-needs-contact]")) {
      for (const button of form.querySelectorAll("button:not([type=button])")) button.disabled = without;
      let said = form.querySelector(".needs-contact");
      if (without && !said && words.needsContact) {
        form.append((said = make("p", words.needsContact + " ", { className: "problem needs-contact" })));
        if (form.dataset.needsContact) said.append(make("a", words.placard, { href: form.dataset.needsContact }));
      }
      if (said) said.hidden = !without;
    }
    if (!note || body.dataset.kept || !words.without) return;
    if (without && (note.hidden || note.dataset.mine)) note.textContent = words.without.replace("111", heard ? when(heard) : "—");
    if (without) note.dataset.mine = "yes";
    if (without || note.dataset.mine) note.hidden = !without;
  };
  let since;
  const doubt = () => {
    clearTimeout(since);
    if (!outbox.contact) since = setTimeout(() => {
      for (const badge of document.querySelectorAll(".badge.may-run, .badge.run-check, .badge.held, .badge.go")) {
        badge.className = "badge not-known" + (badge.classList.contains("small") ? " small" : "");
        badge.textContent = words.unknown || body.dataset.unknown || badge.textContent;
      }
    }, 30000);
  };
  doubt(); // a kept page begins without contact
  addEventListener("contact", () => {
    mark();
    doubt();
    if (outbox.contact) {
      outbox.send();
      if (body.dataset.kept && document.querySelector(".ways")) walk.turn(location.href, false).then(() => delete body.dataset.kept);
      else if (body.dataset.kept && !touched) location.reload();
    }
  });
  addEventListener("stranger", () => { // nobody, or somebody else, is signed in here by now
    if (document.getElementById("stranger") || !words.signIn) return;
    const told = make("p", words.signIn + " ", { className: "lost", id: "stranger" });
    told.setAttribute("role", "alert");
    told.append(make("a", words.signInThere, { className: "button", href: "/sign-in?back=" + encodeURIComponent(location.pathname + location.search) }));
    document.querySelector("h1").after(told);
  });
  addEventListener("gave", ({ detail }) => {
    show();
    const begun = detail.fields.find(([name]) => name === "walk"); // the page of a check that was not there until now
    if (begun && location.pathname === "/inspections/" + begun[1] && !document.querySelector(".ways")) location.reload();
  });
  document.addEventListener("turned", mark);
  document.addEventListener("restored", () => show());
  document.addEventListener("input", () => (touched = true));
  const knock = async () => outbox.ask("/contact", { cache: "no-store" }, 15000);
  if (body.dataset.kept) knock();
  addEventListener("offline", knock);
  addEventListener("online", () => knock().then(() => outbox.send()));
  setInterval(async () => {
    if (!outbox.contact) await knock();
    else if ((await outbox.waits().catch(() => [])).some(outbox.goes)) await outbox.send();
    show();
  }, 15000);

  // The words, and what else is on the page /phone.
  const words = (globalThis.words = {});
  const kept = await outbox.get("kept", "phone").catch(() => null), fresh = kept && kept.build === build && kept.person === person && kept.lang === document.documentElement.lang;
  if (!source && fresh) source = parse(kept.text);
  const ask = async () => {
    const reply = await outbox.ask("/phone");
    if (!reply?.ok) return;
    source = parse(reply.text);
    outbox.put("kept", { key: "phone", build, person, lang: document.documentElement.lang, at: Date.now(), text: reply.text }).catch(() => {});
  };
  const speak = () => {
    Object.assign(words, source?.getElementById("togo")?.dataset);
    document.dispatchEvent(new Event("worded"));
  };
  if (!source || (!fresh || Date.now() - kept.at > 600000) && source !== document) await ask();
  if (!source && kept) source = parse(kept.text);
  if (!source) addEventListener("contact", async () => words.queued || !outbox.contact || (await ask(), speak(), mark(), show())); // not come over: with the next contact
  speak();
  await drafts.ready;
  await Promise.all([mark(), show(), walk.count()]);
  await walk.prefetch();

  // Pages of somebody else are not kept on.
  const before = (await outbox.get("kept", "person").catch(() => null))?.id;
  if (before !== person) await outbox.put("kept", { key: "person", id: person });
  if (!globalThis.caches) return plain();
  for (const name of await caches.keys()) if (name.startsWith("pages:") && name !== "pages:" + person) await caches.delete(name);
  await navigator.serviceWorker?.register("/sw.js").catch(() => {});
  if (outbox.contact && source) await keepPages(source);

  async function keepPages(page) {
    const last = (await outbox.get("kept", "pages").catch(() => null)) || {};
    if (last.person === person && Date.now() - last.at < 600000) return;
    const shelf = await caches.open("pages:" + person);
    for (const a of page.querySelectorAll("a[data-keep]")) {
      const href = a.getAttribute("href"), reply = await outbox.ask(href, {}, 15000);
      if (!reply) return;
      if (!reply.ok || reply.redirected) continue;
      await outbox.keepPage(href, reply.text, person);
      const doc = parse(reply.text), start = doc.querySelector("form[data-begins]");
      for (const img of doc.querySelectorAll("img[src^='/photos/']")) if (!(await shelf.match(img.getAttribute("src")))) await shelf.add(img.getAttribute("src")).catch(() => {});
      for (const state of start?.dataset.states.split(" ") || []) {
        const step = await outbox.ask(start.dataset.begins + "?list=" + encodeURIComponent(start.elements.list.value) + "&state=" + state);
        if (step?.ok) await outbox.keepPage(start.dataset.begins + "?state=" + state, step.text, person);
      }
    }
    await outbox.put("kept", { key: "pages", person, at: Date.now() });
  }
  // A plain address: said once on this phone.
  function plain() {
    if (!person || !words.plain || localStorage.getItem("plain")) return;
    const card = make("aside", words.plain + " ", { className: "card" }), ok = make("button", words.understood, { type: "button" });
    ok.addEventListener("click", () => (localStorage.setItem("plain", "said"), card.remove()));
    card.append(ok);
    document.getElementById("main").append(card);
  }
})().catch(() => {}); // no storage: what the server has is all there is
