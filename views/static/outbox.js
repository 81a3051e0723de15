// What this phone still has to give to the mill's computer: kept in IndexedDB
// until it is there, sent in order, once. A page and the worker (sw.js) both use
// it. drafts are forms being filled in, outbox is what was sent off, kept is
// what else the phone has to remember. Never a PIN or password.
"use strict";
globalThis.outbox ||= (() => {
  let opening, last = 0, contact = !globalThis.document?.body.dataset.kept, queue = Promise.resolve();
  // A page left while it first opens the store, and kept asleep by the browser for
  // going back, would hold every other page up: a message has the browser drop it.
  const open = () => (opening ||= new Promise((done, failed) => {
    const bell = globalThis.BroadcastChannel && new BroadcastChannel("stillsaw");
    bell?.addEventListener("message", () => {});
    bell?.postMessage("opens");
    const asked = indexedDB.open("stillsaw", 1);
    asked.onupgradeneeded = () => {
      asked.result.createObjectStore("drafts", { keyPath: "key" });
      asked.result.createObjectStore("outbox", { keyPath: "id" });
      asked.result.createObjectStore("kept", { keyPath: "key" });
    };
    asked.onsuccess = () => {
      bell?.close();
      asked.result.onversionchange = () => asked.result.close();
      done(asked.result);
    };
    asked.onerror = asked.onblocked = () => failed(asked.error);
  }));
  // act gives what its one request gave, once that is on the disk.
  const act = async (store, mode, work) => {
    const db = await open();
    return new Promise((done, failed) => {
      const deal = db.transaction(store, mode, { durability: "strict" }), asked = work(deal.objectStore(store));
      deal.oncomplete = () => done(asked?.result);
      deal.onabort = () => failed(deal.error);
    });
  };
  const get = (store, key) => act(store, "readonly", (s) => s.get(key));
  const all = (store) => act(store, "readonly", (s) => s.getAll());
  const put = (store, thing) => act(store, "readwrite", (s) => s.put(thing));
  const remove = (store, key) => act(store, "readwrite", (s) => s.delete(key));
  // change puts what next makes of the thing as it is; undefined leaves it.
  const change = (store, key, next) => act(store, "readwrite", (s) => {
    s.get(key).onsuccess = (event) => {
      const then = next(event.target.result);
      if (then) s.put(then);
    };
  });

  // tick is the phone's time, growing even where its clock stands or is set back.
  const tick = () => (last = Math.max(Date.now(), last + 1));
  // uuid is a version 7 one (RFC 9562 section 5.7); crypto.randomUUID is kept from plain addresses.
  const uuid = () => {
    const bytes = crypto.getRandomValues(new Uint8Array(16));
    for (let at = 5, time = Date.now(); at >= 0; at--, time = Math.floor(time / 256)) bytes[at] = time % 256;
    bytes[6] = (bytes[6] & 15) | 112;
    bytes[8] = (bytes[8] & 63) | 128;
    return Array.from(bytes, (b, at) => ([4, 6, 8, 10].includes(at) ? "-" : "") + b.toString(16).padStart(2, "0")).join("");
  };

  const hear = (yes) => {
    if (yes && Date.now() - (hear.noted || 0) > 5000) put("kept", { key: "contact", at: (hear.noted = Date.now()) }).catch(() => {});
    if (contact === yes) return;
    contact = yes;
    dispatchEvent(new Event("contact"));
  };
  // ask gives the whole answer, or null when none came in time.
  // Where patient, one that is only slow is no sign that there is no contact.
  const ask = async (to, how = {}, lasts = 8000, patient = false) => {
    try {
      const reply = await fetch(to, { ...how, headers: { Accept: "text/html", ...how.headers }, signal: AbortSignal.timeout(lasts) });
      const text = await reply.text();
      hear(reply.status < 502);
      return { ok: reply.ok, status: reply.status, redirected: reply.redirected, url: reply.url, type: reply.type, goOn: reply.headers.get("Stillsaw-Go-On"), text };
    } catch (wrong) {
      if (!patient || wrong.name !== "TimeoutError") hear(false);
      return null;
    }
  };

  const person = async () => globalThis.document?.body?.dataset.person ?? (await get("kept", "person"))?.id;
  // waits is everything that is not with the mill yet, oldest first.
  const waits = async () => {
    const [drafts, sent] = await Promise.all([all("drafts"), all("outbox")]);
    return [...drafts.filter((d) => d.dirty && d.action), ...sent].sort((a, b) => a.at - b.at);
  };

  const left = (thing) => thing.files.filter((f) => f.file && !thing.sent?.includes(f.id)); // photos the server has not got
  const pack = (thing) => {
    const body = new FormData();
    for (const [name, value] of thing.fields) body.append(name, value);
    for (const { name, file } of left(thing)) body.append(name, file, file.name || "photo.jpg");
    body.set("phone", thing.at + " " + -new Date(thing.at).getTimezoneOffset());
    if (thing.key) body.set("saved", thing.saved);
    if (thing.key) body.set("submission", thing.submission); // each change is an act of its own, else one taken back would count as sent before
    return body;
  };
  // settle notes in the draft what the server took of it.
  const settle = (thing, taken, said) => change("drafts", thing.key, (was) => {
    if (!was) return;
    const same = was.saved === thing.saved; // else more was typed meanwhile, which goes next
    const sent = taken ? [...(was.sent || []), ...left(thing).map((f) => f.id)] : was.sent;
    const files = was.files.map((f) => (sent?.includes(f.id) ? { id: f.id, name: f.name } : f));
    return { ...was, files, sent, failed: undefined, dirty: was.dirty && !(same && taken), taken: taken ? Date.now() : was.taken, said: same ? said : was.said };
  });
  // post sends one thing and gives the answer, or null.
  const post = (thing) => {
    const body = pack(thing);
    body.set("person", thing.person);
    const headers = { "Stillsaw-Outbox": String(Math.max(1, Date.now() - thing.at)) };
    return ask(thing.action, { method: "POST", body, redirect: "manual", headers }, left(thing).length ? 90000 : 20000);
  };
  // failed counts a failure of the mill's computer; one that lasts needs the person,
  // and is tried on.
  const failed = (thing, status) => change(thing.key ? "drafts" : "outbox", thing.key || thing.id, (was) => {
    if (!was || was.saved !== thing.saved) return; // more was typed meanwhile
    const { times = 0, since = Date.now() } = was.failed || {}, lasts = times + 1 >= 5 && Date.now() - since >= 3600000;
    return { ...was, failed: { times: times + 1, since }, said: lasts ? { status } : was.said };
  });
  // goes tells what is to be sent, and not for the person to mend first.
  const goes = (thing) => !thing.said || thing.said.status >= 500;
  // give sends one thing and tells how it went: "settled", "silent" when no answer
  // came, "stranger" when the one signed in is another, "later" for any other try.
  const give = async (thing) => {
    const reply = await post(thing);
    if (!reply) return "silent";
    if (reply.status === 401) return dispatchEvent(new Event("stranger")), "stranger";
    if (reply.status >= 500) await failed(thing, reply.status);
    if (reply.type === "opaqueredirect" || reply.status >= 500 || [408, 425, 429].includes(reply.status)) return "later";
    const taken = reply.ok, said = taken ? undefined : { status: reply.status, text: sentence(reply), goOn: reply.goOn };
    if (thing.key) await settle(thing, taken, said);
    else await (taken ? remove("outbox", thing.id) : change("outbox", thing.id, (was) => was && { ...was, said }));
    dispatchEvent(new CustomEvent("gave", { detail: { ...thing, taken, said } }));
    return "settled";
  };
  // sentence is what a refusal says; a whole page says it in the paragraph under its heading.
  const sentence = ({ text, status }) => {
    const plain = (/<h1[^>]*>[\s\S]*?<\/h1>/.test(text) ? (/<main[\s\S]*<\/main>/.exec(text)?.[0] || text) : text)
      .replace(/<(script|style|form|nav)[\s\S]*?<\/\1>/g, " ").replace(/<[^>]*>/g, " ").replace(/&#(\d+);/g, (_, n) => String.fromCodePoint(n))
      .replace(/&lt;/g, "<").replace(/&gt;/g, ">").replace(/&quot;/g, '"').replace(/&amp;/g, "&").replace(/\s+/g, " ").trim();
    return plain.slice(0, 600) || String(status);
  };

  // subject is what a thing is of, within which the order counts: a check, or its kind.
  const subject = (thing) => {
    const begun = thing.fields.find(([name]) => name === "walk");
    return begun ? "/inspections/" + begun[1] : /^\/inspections\/[^/]+/.exec(thing.action)?.[0] || thing.action;
  };
  // run sends every stop first. Whoever reports one need not be the one signed in
  // when it goes, and nothing else holds it up, nor one stop another.
  const run = async () => {
    const me = await person(), all = (await waits()).filter(goes), held = new Set();
    const stops = all.filter((t) => t.action === "/stop-it"), rest = all.filter((t) => t.action !== "/stop-it" && t.person === me);
    for (const stop of stops) if ((await give(stop)) === "silent") return;
    for (const thing of rest) {
      if (held.has(subject(thing))) continue;
      const went = await give(thing);
      if (went === "silent" || went === "stranger") return; // all that is left is of the same person
      if (went === "later") held.add(subject(thing));
    }
  };
  // send gives all that waits and can go, after any sending under way. Two pages
  // and the worker take turns where the browser lets them; where it does not, the
  // server knows a thing it was given twice.
  const send = () => (queue = queue.then(() => (navigator.locks ? navigator.locks.request("stillsaw", run) : run())).catch(() => {}));

  // keepPage keeps a page for when there is no contact, where the browser lets it.
  const keepPage = async (href, text, of) => {
    if (!globalThis.caches) return;
    const shelf = await caches.open("pages:" + of);
    await shelf.put(href, new Response(text, { headers: { "Content-Type": "text/html; charset=utf-8", Kept: String(Date.now()) } }));
  };

  return { get, all, put, remove, change, tick, uuid, ask, waits, goes, send, post, pack, settle, person, hear, keepPage, get contact() { return contact; } };
})();
