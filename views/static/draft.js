// Keeps what is typed into form[data-draft=key], photos too, on the phone
// (outbox.js), per person, and puts it back until the mill's computer has it: a
// page says so (body[data-sent=key]), or, with data-autosave, the sending of each
// change. Never secrets.
"use strict";
globalThis.drafts ||= (() => {
  const body = document.body, week = 7 * 24 * 3600 * 1000;
  const ahead = Date.now() - Number(body.dataset.now || Date.now()); // of the server's clock
  const key = (form) => body.dataset.person + ":" + form.dataset.draft;
  const chosen = new WeakMap(); // file input → [{ id, name, file }]
  const typed = (form, button) => {
    const secret = [...form.querySelectorAll("[type=password]")].map((input) => input.name);
    const fields = [...new FormData(form)].filter(([name, value]) => typeof value === "string" && !secret.includes(name));
    if (button?.name) fields.push([button.name, button.value]);
    return fields;
  };
  const photos = (form) => [...form.elements].filter((input) => input.type === "file" && input.name).flatMap((input) => {
    const before = chosen.get(input) || [];
    const files = [...input.files].map((file) => before.find((f) => f.file === file) || { id: outbox.uuid(), name: input.name, file });
    chosen.set(input, files);
    return files;
  });

  const sentOnly = new WeakMap(); // form → photos the mill's computer has, of one this phone can't keep
  // unkept says that this phone can't keep what is typed, and sends it at once.
  const unkept = async (form, thing) => {
    const say = () => {
      const said = globalThis.words?.cantKeep, state = form.querySelector("[data-autosaved]"), there = form.querySelector(".cant-keep");
      if (state) state.textContent = said || state.dataset.failed;
      if (!said || there) return;
      const told = Object.assign(document.createElement("p"), { className: "problem cant-keep", textContent: said });
      told.setAttribute("role", "alert");
      form.prepend(told);
    };
    say();
    document.addEventListener("worded", say, { once: true });
    if (!thing.action || !outbox.contact) return false;
    const sent = sentOnly.get(form) || [], reply = await outbox.post({ ...thing, sent });
    if (!reply?.ok) return false;
    sentOnly.set(form, [...sent, ...thing.files.map((f) => f.id)]);
    const state = form.querySelector("[data-autosaved]");
    if (state) state.textContent = state.dataset.done;
    form.dispatchEvent(new Event("autosaved", { bubbles: true }));
    return false;
  };
  // keep tells whether the phone could keep it: it may be full, or forbidden in a
  // private window.
  const keep = (form) => {
    const at = outbox.tick(), fields = typed(form), files = photos(form);
    const thing = { key: key(form), person: body.dataset.person, who: document.querySelector(".who")?.textContent, what: form.dataset.outbox || document.title.split(" · ")[0], page: location.pathname + location.search,
      action: form.dataset.autosave && form.getAttribute("action"), submission: outbox.uuid(), at, saved: at, fields, files, dirty: true };
    return outbox.change("drafts", key(form), (was) => ({
      ...thing, saved: Math.max(at, (was?.saved || 0) + 1), sent: was?.sent || [],
      files: [...files, ...(was?.files || []).filter((f) => !f.file && !files.some((g) => g.name === f.name))],
    })).then(() => true, () => unkept(form, thing));
  };

  // typedEarly tells what was typed before this script had come (begin.js).
  const typedEarly = (form, name) => form.querySelector("[data-typed]" + (name ? '[name="' + CSS.escape(name) + '"]' : ""));
  // bring puts an item that is asked on an earlier answer into its place.
  const bring = (template) => {
    const page = template.ownerDocument, box = page.createElement("div");
    if (page.getElementById("f-" + template.dataset.asks)) return;
    box.id = "f-" + template.dataset.asks;
    box.dataset.ask = "";
    box.append(page.importNode(template.content, true));
    template.after(box);
    box.closest("section").hidden = false;
  };
  // put fills the form of a page, or of one not shown, with a draft of it.
  const put = (form, draft) => {
    const newer = draft.at - ahead < Number(form.dataset.saved || 0); // answered on another phone meanwhile: only what it left open
    const left = newer ? [...form.querySelectorAll("[data-ask]")].filter((ask) => ask.querySelector("[type=radio]:checked")) : [];
    for (const template of form.querySelectorAll("template[data-asks]")) if (draft.fields.some(([name]) => name === template.dataset.asks)) bring(template);
    for (const input of form.elements) {
      if (!input.name || ["password", "submit"].includes(input.type) || (input.type === "hidden" && input.name !== "submission") || left.some((ask) => ask.contains(input)) || typedEarly(form, input.name)) continue;
      const values = draft.fields.filter(([name]) => name === input.name).map(([, value]) => value);
      if (input.type === "radio" || input.type === "checkbox") input.checked = values.includes(input.value);
      else if (input.type === "file") {
        const files = draft.files.filter((f) => f.name === input.name), back = new DataTransfer();
        for (const { file } of files) if (file) back.items.add(file instanceof File ? file : new File([file], "photo.jpg", { type: file.type }));
        if (back.files.length) {
          input.files = back.files;
          chosen.set(input, [...input.files].map((file, n) => ({ ...files.filter((f) => f.file)[n], file })));
        }
        input.toggleAttribute("data-have", files.length > 0);
      } else if (values.length) input.value = values[0];
    }
  };
  const restored = new WeakSet(); // what is typed into a form before it is one is not undone
  const restore = async (form) => {
    const kept = await outbox.get("drafts", key(form)).catch(() => null);
    const owed = kept && (kept.dirty || kept.taken > performance.timeOrigin); // taken since this page was asked for: it may stand in it or not
    if (owed && Date.now() - kept.at < week && !form.querySelector("[aria-invalid], .bad")) put(form, kept); // else the server has just given back what was typed
    if (typedEarly(form)) await keep(form);
    for (const input of form.querySelectorAll("[data-typed]")) input.removeAttribute("data-typed");
    restored.add(form);
    form.dispatchEvent(new Event("restored", { bubbles: true }));
  };
  const forget = (page) => page.sent && outbox.change("drafts", body.dataset.person + ":" + page.sent, (was) => was && { ...was, dirty: false, fields: was.action ? was.fields : [], files: was.files.map(({ id, name }) => ({ id, name })) }).catch(() => {});
  const begin = () => Promise.all([...document.querySelectorAll("form[data-draft]")].map(restore));

  let typing = null; // the form whose last letters are not kept yet
  const waiting = new Map();
  const soon = (form, after) => {
    clearTimeout(waiting.get(form));
    waiting.set(form, setTimeout(() => (waiting.delete(form), outbox.send()), after));
  };
  // flush has everything typed on the phone and, with contact, at the mill's
  // computer; it tells whether that came about in time.
  const flush = async () => {
    clearTimeout(typing?.timer);
    if (typing) await keep(typing.form);
    typing = null;
    waiting.forEach(clearTimeout);
    waiting.clear();
    return outbox.contact && Promise.race([outbox.send().then(() => outbox.contact), new Promise((late) => setTimeout(late, 4000, false))]);
  };
  const change = (event) => {
    const form = event.target.form;
    if (!form?.dataset.draft) return;
    if (!restored.has(form)) event.target.setAttribute("data-typed", "");
    clearTimeout(typing?.timer);
    typing = null;
    if (event.type === "input") return void (typing = { form, timer: setTimeout(() => keep(form).then(() => form.dataset.autosave && soon(form, 1500)), 300) }); // a photo is written anew with each
    const kept = keep(form), shrinks = event.type === "change" && event.target.matches("[data-shrink]"); // sent once it is small
    if (form.dataset.autosave && !shrinks) kept.then(() => soon(form, 500));
  };
  for (const kind of ["input", "change", "shrunk"]) document.addEventListener(kind, change);
  document.addEventListener("submit", (event) => (clearTimeout(waiting.get(event.target)), waiting.delete(event.target)));
  document.addEventListener("replied", (event) => forget(event.detail));
  addEventListener("gave", ({ detail }) => {
    const form = [...document.querySelectorAll("form[data-autosave]")].find((f) => key(f) === detail.key);
    const state = form?.querySelector("[data-autosaved]");
    if (state) state.textContent = state.dataset[detail.taken ? "done" : "failed"];
    if (form && detail.taken) form.dispatchEvent(new Event("autosaved", { bubbles: true }));
  });
  addEventListener("contact", () => {
    for (const state of outbox.contact ? [] : document.querySelectorAll("[data-autosaved]")) state.textContent = state.dataset.failed;
  });

  const ready = Promise.resolve(forget(body.dataset)).then(begin).then(() => outbox.send());
  return { typed, photos, keep, bring, put, key, restore, begin, forget, flush, ready };
})();
