// For a hand in a glove. In form[data-undo] an item answered OK brings the next one
// up by itself, and for some seconds a bar takes the last answer back; the item
// itself does so at any time. The arrow keys only look around. The phone shakes when
// an answer is kept and at a verdict, and sounds where this phone was told to.
"use strict";
(() => {
  const calm = matchMedia("(prefers-reduced-motion: reduce)"), before = new Map();
  const chosen = (name) => { try { return localStorage.getItem(name); } catch { return null; } };
  let keyed = "", bar = null, timer, undoing = false, sound;
  const shakes = { kept: 30, go: [60, 60, 60], halt: [250, 120, 250] }, tones = { kept: [880], go: [660, 990], halt: [220, 220] };
  const feel = (kind) => {
    if (!navigator.userActivation?.hasBeenActive) return;
    if (chosen("shake") !== "no") navigator.vibrate?.(shakes[kind]);
    if (chosen("sound") !== "yes" || !globalThis.AudioContext) return;
    sound ||= new AudioContext();
    tones[kind].forEach((pitch, n) => {
      const tone = new OscillatorNode(sound, { frequency: pitch }), at = sound.currentTime + n * 0.25;
      tone.connect(new GainNode(sound, { gain: 0.2 })).connect(sound.destination);
      tone.start(at);
      tone.stop(at + (kind === "kept" ? 0.06 : 0.18));
    });
  };
  for (const box of document.querySelectorAll("#main #f-shake, #main #f-sound")) {
    box.checked = chosen(box.name) === "yes" || (box.name === "shake" && chosen("shake") !== "no");
    box.addEventListener("change", () => {
      localStorage.setItem(box.name, box.checked ? "yes" : "no");
      feel("kept");
    });
    box.closest("[hidden]")?.removeAttribute("hidden");
  }

  const idOf = (ask) => ask.id.slice(2); // "f-S1"
  const radios = (ask) => [...ask.querySelectorAll('[type=radio][name="' + CSS.escape(idOf(ask)) + '"]')];
  const answer = (ask) => radios(ask).find((r) => r.checked)?.value || "";
  const note = () => {
    for (const ask of document.querySelectorAll("[data-undo] [data-ask]")) before.set(idOf(ask), answer(ask));
  };
  const shown = (input) => input.checkVisibility?.() !== false;
  const bring = (place) => {
    const box = place.matches("[data-ask]") ? place.querySelector("fieldset") : place;
    const to = (keyed && place !== box && [...box.querySelectorAll("input, select")].find((i) => i.type !== "hidden" && shown(i) && (i.type !== "radio" || i.checked || !answer(place)))) || box;
    if (to === box && box.matches("fieldset")) box.tabIndex = -1;
    (keyed ? to : box).scrollIntoView({ behavior: calm.matches ? "auto" : "smooth", block: keyed ? "center" : "start" });
    to.focus({ preventScroll: true });
  };
  const next = (ask) => {
    const open = [...ask.querySelectorAll("input, select")].find((i) => !["radio", "hidden", "checkbox"].includes(i.type) && shown(i) && !i.value && !i.hasAttribute("data-have"));
    if (open && !(open.type === "file" && ask.querySelector("img.photo[src^='/photos/']"))) return keyed ? bring(open) : undefined;
    const all = [...document.querySelectorAll("[data-undo] [data-ask]:not([hidden])")];
    const after = all.slice(all.indexOf(ask) + 1).find((a) => !answer(a)) || ask.closest("section")?.querySelector("button[name=next]");
    if (after) bring(after);
  };
  const away = () => {
    clearTimeout(timer);
    bar?.remove();
    bar = null;
  };
  const offer = (ask, was, text) => {
    away();
    bar = document.createElement("div");
    bar.className = "undo";
    bar.setAttribute("role", "status");
    const said = document.createElement("span"), back = document.createElement("button");
    said.textContent = idOf(ask) + " · " + text;
    back.type = "button";
    back.textContent = ask.closest("form").dataset.undo;
    back.addEventListener("click", () => {
      away();
      undoing = true;
      for (const r of radios(ask)) r.checked = r.value === was;
      if (!was) ask.append(Object.assign(document.createElement("input"), { type: "hidden", name: "back", value: idOf(ask) }));
      before.set(idOf(ask), was);
      radios(ask)[0].dispatchEvent(new Event("change", { bubbles: true }));
      undoing = false;
      bring(ask);
    });
    bar.append(said, back);
    ask.after(bar);
    const later = () => (bar?.contains(document.activeElement) ? (timer = setTimeout(later, 4000)) : away());
    timer = setTimeout(later, 8000);
  };

  document.addEventListener("keydown", (event) => (keyed = event.key), true);
  document.addEventListener("pointerdown", () => (keyed = ""), true);
  document.addEventListener("change", (event) => {
    const radio = event.target, ask = radio.closest?.("[data-undo] [data-ask]");
    if (undoing || !ask || radio.name !== idOf(ask)) return;
    ask.querySelector("[name=back]")?.remove();
    const was = before.get(radio.name) || "";
    before.set(radio.name, radio.value);
    feel("kept");
    offer(ask, was, radio.closest("label").textContent.trim());
    if (radio.value === "ok" && !keyed.startsWith("Arrow")) next(ask);
  }, true);
  document.addEventListener("turned", () => (away(), note()));
  document.addEventListener("restored", note);
  document.addEventListener("submit", (event) => event.target.getAttribute("action") === "/stop-it" && feel("halt"), true);
  document.addEventListener("swapped", () => {
    const badge = document.querySelector("#answer .badge");
    if (badge) feel(badge.matches(".go, .may-run") ? "go" : "halt");
  });
  note();
})();
