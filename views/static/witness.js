// Makes the phone a witness of the record. It keeps the first checkpoint it
// meets, one a day and the newest, and has the server prove that the record goes
// on from the newest (merkle.js, loaded when there is a proof). Where it does not,
// #other-record is shown on every page, until it is ended on the page Verify. Front
// page and Verify say all of it (#other-said), the others what came with the words.
"use strict";
(async () => {
  if (!document.querySelector(".bar")) return; // the wall
  await new Promise((come) => document.addEventListener("worded", come, { once: true }));
  if (!words.log) return;
  const log = words.log, key = "checkpoints " + log, read = (name) => JSON.parse(localStorage.getItem(name));
  const kept = read(key) || {}, newest = kept.newest, here = location.pathname.startsWith("/verify");
  const part = (tag, text, more) => Object.assign(document.createElement(tag), { textContent: text }, more);
  const show = () => {
    const all = document.getElementById("other-said"), said = part("p", words.noticed + " "), leads = part("p", "");
    let banner = document.getElementById("other-record");
    if (!banner) {
      banner = part("section", "", { id: "other-record", className: "wrong", hidden: true });
      banner.setAttribute("role", "alert");
      document.querySelector("h1").after(banner);
    }
    said.prepend(part("strong", words.other), " ");
    said.append(part("time", ""));
    leads.append(part("a", words.compare, { href: "/verify#phone" }));
    banner.replaceChildren(...(all ? [document.importNode(all.content, true)] : [said, leads]));
    const [was, is] = banner.querySelectorAll("pre");
    if (was) was.textContent = kept.wrong.kept.note;
    if (is) is.textContent = kept.wrong.seen.note;
    banner.querySelector("time").textContent = new Date(kept.wrong.seen.at).toLocaleString(document.documentElement.lang);
    banner.hidden = false;
  };
  if (kept.wrong) show();
  if (!here && (kept.wrong || newest && Math.abs(Date.now() - newest.at) < 600000)) return;

  const reply = await fetch("/checkpoint/consistency?from=" + (newest ? newest.size : 0), { cache: "no-store", signal: AbortSignal.timeout(20000) });
  const text = await reply.text(), start = text.indexOf(log + "\n");
  if (start < 0 || !reply.ok && reply.status !== 409) return;
  const note = text.slice(start), [, size, root] = note.split("\n");
  const seen = { size: Number(size), root, note, at: Date.now() };

  const goesOn = async () => {
    if (!newest || seen.size <= newest.size) return !newest || seen.size === newest.size && root === newest.root;
    await new Promise((loaded, failed) => document.head.append(Object.assign(document.createElement("script"), { src: words.merkle, onload: loaded, onerror: failed })));
    const hashes = text.slice(0, start).split("\n").filter(Boolean).concat(newest.root, root).map(merkle.fromBase64);
    const [older, newer] = hashes.splice(-2);
    return hashes.every((h) => h && h.length === 32) && merkle.consistent(newest.size, older, seen.size, newer, hashes);
  };
  kept.agrees = await goesOn();
  kept.heard = seen.at;
  if (kept.agrees) {
    kept.newest = seen;
    kept.first ||= seen;
    const day = new Date(seen.at).toLocaleDateString();
    if (kept.day !== day) {
      const days = read(key + " days") || [];
      localStorage.setItem(key + " days", JSON.stringify([...days, seen].slice(-400)));
      kept.day = day;
    }
  } else {
    kept.wrong ||= { kept: newest, seen };
  }
  localStorage.setItem(key, JSON.stringify(kept));
  if (kept.wrong) show();
  document.dispatchEvent(new Event("witnessed"));
})().catch(() => {}); // no storage, no answer: nothing is kept, and Verify says so
