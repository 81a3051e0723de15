// Shows on the page Verify what checkpoints this phone has kept (witness.js),
// gives them out as a file, puts them into the form that compares, and ends the
// notice about another record.
"use strict";
(() => {
  const section = document.getElementById("phone"), banner = document.getElementById("other-record");
  if (!section || !banner) return;
  const key = "checkpoints " + banner.dataset.log, say = (name) => section.querySelector("[data-" + name + "]");
  const when = (at) => new Date(at).toLocaleString(document.documentElement.lang);
  let file;
  const all = () => {
    const kept = JSON.parse(localStorage.getItem(key)) || {}, days = JSON.parse(localStorage.getItem(key + " days")) || [];
    const notes = new Map();
    const ended = (kept.ended || []).flatMap((w) => [w.kept, w.seen]);
    for (const c of [kept.first, ...days, ...ended, kept.newest, kept.wrong && kept.wrong.kept, kept.wrong && kept.wrong.seen]) if (c) notes.set(c.note, c);
    return { kept, notes: [...notes.values()].sort((a, b) => a.at - b.at) };
  };
  const text = (notes) => notes.map((c) => new Date(c.at).toISOString() + "\n" + c.note).join("\n");
  const show = () => {
    const { kept, notes } = all();
    if (notes.length === 0) return;
    say("none").hidden = true;
    say("some").hidden = false;
    say("count").textContent = notes.length;
    say("first").textContent = when(notes[0].at);
    if (kept.newest) say("newest").textContent = when(kept.newest.at) + ", " + kept.newest.size;
    say("agrees").hidden = !kept.newest || !!kept.wrong;
    say("differs").hidden = !kept.wrong;
    say("again").hidden = !kept.wrong || !kept.agrees;
    say("ended").hidden = !kept.ended;
    if (kept.ended) say("ended").querySelector("time").textContent = when(kept.ended.at(-1).at);
    say("others").hidden = !Object.keys(localStorage).some((name) => /^checkpoints stillsaw\/\S+$/.test(name) && name !== key);
    if (file) URL.revokeObjectURL(file);
    say("file").href = file = URL.createObjectURL(new Blob([text(notes)], { type: "text/plain" }));
  };
  say("compare").addEventListener("click", () => {
    const area = document.getElementById("f-text");
    area.value = text(all().notes);
    area.form.requestSubmit();
  });
  say("end").addEventListener("click", () => {
    if (!say("read").checked) return say("read").focus();
    const { kept } = all();
    kept.ended = [...(kept.ended || []), { ...kept.wrong, at: Date.now() }];
    delete kept.wrong; // the next page takes the record as it then is for the newest
    delete kept.newest;
    localStorage.setItem(key, JSON.stringify(kept));
    location.reload();
  });
  document.addEventListener("witnessed", show);
  show();
})();
