// Checks a form marked data-instant again a moment after a number in it was
// changed, and swaps the answer in its place. Nothing is kept by it, and on any
// surprise the old answer stays, marked as old.
"use strict";
let instantWait, instantTurn = 0;
document.addEventListener("input", (event) => {
  const form = event.target.form, into = form?.dataset.into;
  if (!into || !("instant" in form.dataset) || document.querySelector(into)?.contains(event.target)) return;
  const turn = ++instantTurn;
  clearTimeout(instantWait);
  instantWait = setTimeout(async () => {
    const body = new URLSearchParams(new FormData(form));
    body.set("keep", "");
    try {
      const reply = await fetch(form.getAttribute("action"), { method: "POST", body, headers: { Accept: "text/html" }, signal: AbortSignal.timeout(20000) });
      if (reply.status !== 200 || reply.redirected) return;
      const page = new DOMParser().parseFromString(await reply.text(), "text/html");
      const fresh = page.querySelector(into), old = document.querySelector(into);
      if (turn !== instantTurn || form.dataset.busy || !fresh || !old) return;
      old.replaceWith(fresh);
      document.dispatchEvent(new CustomEvent("swapped", { detail: page }));
    } catch {
      return;
    }
  }, 700);
});
document.addEventListener("submit", () => { clearTimeout(instantWait); instantTurn++; });

// With what was swapped in come the title and the parts marked data-with; such a
// part is old with what it goes with.
document.addEventListener("swapped", (event) => {
  const said = document.querySelector("h1"), says = event.detail.querySelector("h1");
  document.title = event.detail.title;
  if (said && says) said.replaceWith(says);
  for (const old of document.querySelectorAll("[data-with][id]")) {
    const fresh = event.detail.getElementById(old.id);
    if (fresh) old.replaceWith(fresh);
  }
});
document.addEventListener("input", (event) => {
  const into = event.target.form?.dataset.into;
  if (!into || document.querySelector(into)?.contains(event.target)) return;
  for (const part of document.querySelectorAll("[data-with]")) if (part.dataset.with === into) part.classList.add("old");
});
