// What a walk asks may depend on its answers: form[data-branches]. Once they are
// kept on the way, the page is asked for anew, and what it asks now and did not
// ask before is put in its place; what is asked no more is hidden. The rule is the
// server's.
"use strict";
document.addEventListener("autosaved", async (event) => {
  const form = event.target;
  if (!("branches" in form.dataset)) return;
  const reply = await fetch(location.href, { headers: { Accept: "text/html" } }).catch(() => null);
  if (!reply || !reply.ok) return;
  const page = new DOMParser().parseFromString(await reply.text(), "text/html");
  if (page.querySelector("form[data-branches]")?.dataset.draft !== form.dataset.draft) return; // by now that address shows another step
  const asked = [...page.querySelectorAll("[data-ask]")];
  for (const [n, fresh] of asked.entries()) {
    const old = document.getElementById(fresh.id);
    if (old) {
      old.hidden = false;
      continue;
    }
    const before = asked[n - 1] && document.getElementById(asked[n - 1].id);
    const station = form.querySelector("#" + CSS.escape(fresh.closest("section").id));
    if (before && station && station.contains(before)) before.after(fresh);
    else if (station) station.querySelector("h2").after(fresh);
  }
  for (const old of form.querySelectorAll("[data-ask]")) if (!asked.some((fresh) => fresh.id === old.id)) old.hidden = true;
});
