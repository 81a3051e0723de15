// Keeps what is typed into form[data-draft=key] on the phone, per person, and puts
// it back until a page says the server has it (body[data-sent=key]). data-autosave
// also sends it there on each change. Never secrets or files.
"use strict";
(() => {
  const body = document.body, week = 7 * 24 * 3600 * 1000;
  const name = (key) => "draft:" + body.dataset.person + ":" + key;
  const typed = (form) => {
    const secret = [...form.querySelectorAll("[type=password]")].map((input) => input.name);
    return [...new FormData(form)].filter(([key, value]) => typeof value === "string" && !secret.includes(key));
  };
  const store = (act) => {
    try {
      return act(localStorage);
    } catch {
      return null; // full, or forbidden in a private window
    }
  };

  const forget = (page) => page.sent && store((kept) => kept.removeItem(name(page.sent)));
  forget(body.dataset);
  document.addEventListener("replied", (event) => forget(event.detail));

  for (const form of document.querySelectorAll("form[data-draft]")) {
    const kept = store((kept) => JSON.parse(kept.getItem(name(form.dataset.draft))));
    const stale = !kept || Date.now() - kept.at > week || kept.at < Number(form.dataset.saved || 0);
    if (stale || form.querySelector("[aria-invalid], .bad")) continue; // the server has just given back what was typed
    for (const input of form.elements) {
      if (!input.name || ["password", "file", "submit"].includes(input.type) || (input.type === "hidden" && input.name !== "submission")) continue;
      const values = kept.typed.filter(([key]) => key === input.name).map(([, value]) => value);
      if (input.type === "radio" || input.type === "checkbox") input.checked = values.includes(input.value);
      else if (values.length) input.value = values[0];
    }
  }

  document.addEventListener("input", (event) => {
    const form = event.target.form;
    if (form && form.dataset.draft)
      store((kept) => kept.setItem(name(form.dataset.draft), JSON.stringify({ at: Date.now(), typed: typed(form) })));
  });

  const waiting = new Map();
  const save = async (form) => {
    const state = form.querySelector("[data-autosaved]");
    const sent = { method: "POST", body: new URLSearchParams(typed(form)), keepalive: true };
    const reply = await fetch(form.dataset.autosave, sent).catch(() => null);
    const done = reply && reply.ok && !reply.redirected;
    if (state) state.textContent = state.dataset[done ? "done" : "failed"];
    if (done) form.dispatchEvent(new Event("autosaved", { bubbles: true }));
    if (!done) waiting.set(form, 0); // the phone keeps its copy; "online" tries again
  };
  const soon = (form) => {
    clearTimeout(waiting.get(form));
    waiting.set(form, setTimeout(() => (waiting.delete(form), save(form)), 500));
  };
  document.addEventListener("change", (event) => event.target.form?.dataset.autosave && soon(event.target.form));
  document.addEventListener("submit", (event) => (clearTimeout(waiting.get(event.target)), waiting.delete(event.target)));
  addEventListener("online", () => [...waiting.keys()].forEach(soon));
})();
