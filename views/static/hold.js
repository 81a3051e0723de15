// What can't be undone is pressed and held: [data-hold], a button; where one choice
// of its form is that, only while the form has what data-hold-when finds. By
// keyboard, or by what presses for a person, it is pressed twice without leaving it,
// however slowly, or held; data-hold says so.
// Without scripts it is an ordinary button, and what it asks before has to do.
"use strict";
(() => {
  const lasts = 1000;
  let timer, since = 0, armed = null, passing = null;
  const of = (event) => {
    const button = event.target.closest?.("[data-hold]"), when = button?.dataset.holdWhen;
    return !when || button.form.querySelector(when) ? button : null;
  };
  const stop = () => {
    clearTimeout(timer);
    document.querySelector(".holding")?.classList.remove("holding");
  };
  const pass = (button) => {
    stop();
    armed = null;
    since = Infinity;
    navigator.vibrate?.(40);
    passing = button;
    button.click();
    passing = null;
  };
  const tell = (button) => {
    let said = button.parentElement.querySelector(".hold-said");
    if (!said) {
      said = document.createElement("p");
      said.className = "hint hold-said";
      said.setAttribute("role", "status");
      button.after(said);
    }
    said.textContent = "";
    requestAnimationFrame(() => (said.textContent = button.dataset.hold));
  };
  document.addEventListener("pointerdown", (event) => {
    const button = of(event);
    if (!button || button.disabled || event.button) return;
    stop();
    button.classList.add("holding");
    timer = setTimeout(pass, lasts, button);
  });
  for (const kind of ["pointerup", "pointercancel", "pointerout", "scroll", "blur"]) addEventListener(kind, stop, true);
  document.addEventListener("contextmenu", (event) => of(event) && event.preventDefault());
  document.addEventListener("keydown", (event) => {
    const button = of(event);
    if (!button || (event.key !== "Enter" && event.key !== " ")) return;
    if (!event.repeat) return void (since = Date.now());
    event.preventDefault();
    if (Date.now() - since >= lasts) pass(button);
  });
  document.addEventListener("click", (event) => {
    const button = of(event);
    if (!button || passing === button) return;
    if (!event.detail && armed === button) {
      passing = button; // this press is the second
      queueMicrotask(() => (passing = armed = null));
      return;
    }
    event.preventDefault();
    event.stopImmediatePropagation();
    tell(button);
    if (event.detail) return;
    armed = button;
  }, true);
  document.addEventListener("focusout", () => (armed = null));
})();
