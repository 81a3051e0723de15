// Keeps a page true. The stream at body[data-stream] sends "moved" with the
// length of the record, on connecting and whenever it grows, and "here" at least
// every 10 s. A longer record fetches the page again and swaps every
// [id][data-live] part; so do body[data-refresh] seconds, since what holds a machine
// changes with the time, too, and 15 s where a browser has no streams or the server
// no room for this one, or the page has none.
// Unheard for 30 s, or brought back from the browser's memory, every
// [data-contact] badge says NOT KNOWN, and so does the heading over a board of them.
"use strict";
(() => {
  const body = document.body, limit = 30000, refresh = Number(body.dataset.refresh) * 1000;
  if (!body.dataset.stream && !refresh) return;
  let heard = Date.now(), seen = Number(body.dataset.seen), newest = seen, stream, fetching = false, lost = false, gone = false, asked = heard;

  const lose = () => {
    lost = true;
    globalThis.outbox?.ask("/contact", { cache: "no-store" }, 5000); // so that what can wait knows it, too
    for (const badge of document.querySelectorAll("[data-contact]")) {
      badge.className = badge.className.replace(/may-run|run-check|held|no-go|\bgo\b/g, "not-known");
      badge.textContent = body.dataset.unknown;
    }
    if (document.getElementById("board")) document.title = document.querySelector("h1").textContent = body.dataset.unknown;
    const note = document.getElementById("lost");
    if (note) {
      note.textContent = globalThis.words?.lost || body.dataset.unknown;
      note.hidden = false;
    }
  };

  const refetch = async () => {
    if (fetching) return;
    fetching = true;
    asked = Date.now();
    try {
      const reply = await fetch(location.href, { cache: "no-store", headers: { Accept: "text/html" }, signal: AbortSignal.timeout(20000) });
      // The address of a refused form leads to the page the form is of.
      const above = location.pathname.startsWith(`${new URL(reply.url).pathname}/`);
      if (!reply.ok || reply.redirected && !above) throw new Error("not this page");
      const page = new DOMParser().parseFromString(await reply.text(), "text/html");
      for (const part of document.querySelectorAll("[id][data-live]")) {
        const fresh = page.getElementById(part.id);
        if (fresh) part.replaceWith(fresh);
      }
      const head = document.querySelector("h1"), answer = page.querySelector("h1");
      if (head && answer) head.textContent = answer.textContent;
      document.title = page.title;
      seen = Number(page.body.dataset.seen);
      if (stream?.readyState !== 1) heard = Date.now();
      lost = false;
      // Badges outside the parts just fetched stay NOT KNOWN, and so does the note.
      const note = document.getElementById("lost");
      if (note) note.hidden = ![...document.querySelectorAll("[data-contact].not-known")].some((b) => !b.closest("[data-live]"));
    } catch {
      lose();
    }
    fetching = false;
    if (newest > seen && !lost) setTimeout(refetch, 200); // it grew meanwhile
  };

  const hear = (event) => {
    heard = Date.now();
    if (event.type === "moved") newest = Number(event.data);
    if (lost || newest > seen) refetch();
  };
  const listen = () => {
    if (!window.EventSource || !body.dataset.stream) return;
    if (stream) stream.close();
    stream = new EventSource(body.dataset.stream);
    stream.addEventListener("moved", hear);
    stream.addEventListener("here", hear);
  };
  // A page left behind must not listen on: a browser allows six connections, and
  // hiding is told after leaving.
  const watch = () => {
    if (gone) return;
    if (Date.now() - heard > limit && !lost) lose();
    const deaf = !stream || stream.readyState === EventSource.CLOSED, since = Date.now() - asked;
    if (stream && deaf) listen();
    if (since > 15000 && deaf || refresh && since > refresh) refetch();
  };

  const way = performance.getEntriesByType("navigation")[0];
  if (way && way.type === "back_forward") lose();
  addEventListener("pageshow", (event) => event.persisted && ((gone = false), lose(), listen()));
  addEventListener("pagehide", () => ((gone = true), stream?.close()));
  document.addEventListener("visibilitychange", watch);
  addEventListener("contact", () => globalThis.outbox.contact && lost && refetch()); // heard by another way
  listen();
  setInterval(watch, 5000);
})();
