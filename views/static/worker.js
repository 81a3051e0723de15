// The part of the phone that stays when a page is gone: the service worker, served
// as /sw.js with version, assets and outbox.js before it. A page comes from the
// mill's computer; when that is not heard in time, from what was kept, saying so.
// Only pages of the one signed in are kept, never forms sent or signing in.
"use strict";
const shelf = "assets:" + version, soon = 4000;
const keeps = /^\/($|phone$|due$|stop-it$|help\/emergency$|defects|inspections\/|lockouts|lifts(\/new|\/chart|\/waiting)?$|procedures\/[^/]+(\/placard)?$)/;

self.addEventListener("install", (event) => event.waitUntil(caches.open(shelf).then((c) => c.addAll(assets)).then(() => self.skipWaiting())));
self.addEventListener("activate", (event) => event.waitUntil((async () => {
  for (const name of await caches.keys()) if (name.startsWith("assets:") && name !== shelf) await caches.delete(name);
  await self.clients.claim();
})()));
self.addEventListener("sync", (event) => event.waitUntil(outbox.send()));

const owner = (html) => /<body[^>]* data-person="([^"]*)"/.exec(html)?.[1];
const noted = async (response, url) => {
  const html = await response.text(), of = owner(html);
  outbox.hear(true);
  if (of === undefined) return;
  if ((await outbox.person()) !== of) {
    await outbox.put("kept", { key: "person", id: of });
    for (const name of await caches.keys()) if (name.startsWith("pages:") && name !== "pages:" + of) await caches.delete(name);
  }
  for (const gone of ["done", "sent"]) url.searchParams.delete(gone);
  if (keeps.test(url.pathname)) await outbox.keepPage(url.pathname + url.search, html, of);
};

const when = (at, lang) => new Date(at).toLocaleString(lang, { dateStyle: "short", timeStyle: "short" });
// old makes of a kept page one that can't be taken for how things stand.
const old = async (kept) => {
  const html = await kept.text(), lang = /<html lang="([^"]*)"/.exec(html)?.[1] || "en", at = when(Number(kept.headers.get("Kept")), lang);
  const [phone, heard] = await Promise.all([outbox.get("kept", "phone"), outbox.get("kept", "contact")]);
  const word = (name) => new RegExp(` data-${name}="([^"]*)"`).exec(phone?.text || "")?.[1];
  const unknown = word("unknown") || "NOT KNOWN", said = (word("kept-page") || "Without contact since 111; shown as it was at 222.").replace("111", heard ? when(heard.at, lang) : "—").replace("222", at);
  const text = html
    .replace(/(<\w+(?=\s)[^>]*?\sclass=")([^"]*)("[^>]*>)[^<]*/g, (all, before, classes, after) => {
      const has = classes.split(/\s+/);
      if (!has.includes("badge") || !has.some((c) => ["may-run", "run-check", "held", "go"].includes(c))) return all;
      return before + "badge not-known" + (has.includes("small") ? " small" : "") + after + unknown;
    })
    .replace(/<body/, '<body data-kept="yes"')
    .replace(/(<h1[^>]*>)([^<]*)/, (all, tag, says) => `<p class="lost" role="alert"><strong class="badge not-known small">${unknown}</strong> ${said}</p>` + tag + (html.includes('id="board"') ? unknown : says))
    .replace(/<title>/, (all) => all + at + ": ");
  return new Response(text, { headers: { "Content-Type": "text/html; charset=utf-8" } });
};
const own = async () => caches.open("pages:" + ((await outbox.person()) || ""));
const page = async (event) => {
  const url = new URL(event.request.url);
  const asked = fetch(event.request);
  event.waitUntil(asked.then((r) => r.status === 200 && !r.redirected && /^text\/html/.test(r.headers.get("Content-Type") || "") && noted(r.clone(), url)).catch(() => {}));
  const mine = await own();
  for (const gone of ["done", "sent"]) url.searchParams.delete(gone);
  const kept = (await mine.match(url.pathname + url.search)) || (url.pathname.startsWith("/inspections/") && (await mine.match(url.pathname, { ignoreSearch: true })));
  const late = new Promise((_, fail) => setTimeout(fail, soon));
  try {
    const reply = await (kept ? Promise.race([asked, late]) : asked);
    const early = reply.status === 404 && url.pathname.startsWith("/inspections/"); // begun here without contact, and not yet there
    if (reply.status < 502 && !(early && kept)) return reply;
    throw reply;
  } catch {
    const other = kept || (url.pathname === "/" ? null : await mine.match("/phone"));
    return other ? old(other) : asked; // nothing kept: the browser says so
  }
};
// unsent leaves the page a form was sent from as it is, and has it say so.
const unsent = async (url) => {
  for (const page of await self.clients.matchAll({ type: "window" })) page.postMessage({ unsent: url.pathname });
  return new Response(null, { status: 204 });
};
const first = async (request, name) => {
  const kept = await (await caches.open(name)).match(request);
  return kept || fetch(request);
};
self.addEventListener("fetch", (event) => {
  const { request } = event, url = new URL(request.url);
  if (url.origin !== location.origin) return;
  if (request.method === "POST" && url.pathname === "/sign-out")
    event.waitUntil(caches.keys().then((names) => Promise.all(names.filter((n) => n.startsWith("pages:")).map((n) => caches.delete(n)))));
  if (request.method === "POST" && request.mode === "navigate") event.respondWith(fetch(request).catch(unsent.bind(null, url)));
  if (request.method !== "GET") return;
  if (url.pathname.startsWith("/assets/")) event.respondWith(first(request, shelf));
  else if (request.mode === "navigate") event.respondWith(page(event));
  else if (url.pathname.startsWith("/photos/") && request.destination === "image")
    event.respondWith(fetch(request).catch(async () => (await (await own()).match(request)) || Response.error()));
});
