// Drags an item of form[data-drag] by its grip to another place or section: it
// fills in the form that moves it by buttons and sends that. Works by mouse and
// thumb; without it the buttons do the same.
"use strict";
(() => {
  const form = document.querySelector("form[data-drag]");
  if (!form) return;
  for (const grip of form.querySelectorAll("[data-grip]")) grip.hidden = false;
  let held = null, from = null;

  const over = (event) => {
    const item = document.elementFromPoint(event.clientX, event.clientY)?.closest("[data-item]");
    const state = held.closest(".edit-state");
    if (!item || item === held || item.closest(".edit-state") !== state) return;
    const box = item.getBoundingClientRect();
    item.parentElement.insertBefore(held, event.clientY < box.top + box.height / 2 ? item : item.nextElementSibling);
  };
  form.addEventListener("pointerdown", (event) => {
    const grip = event.target.closest("[data-grip]");
    if (!grip) return;
    event.preventDefault();
    held = grip.closest("[data-item]");
    from = held.nextElementSibling;
    grip.setPointerCapture(event.pointerId);
    held.classList.add("held");
  });
  form.addEventListener("pointermove", (event) => held && over(event));
  const drop = (event) => {
    if (!held) return;
    const item = held, id = item.dataset.item, next = item.nextElementSibling;
    held = null;
    item.classList.remove("held");
    const list = item.closest("[data-section]"), into = form.elements["into." + id];
    if (event.type === "pointercancel" || (next === from && into.value === list.dataset.section)) return;
    into.value = list.dataset.section;
    form.elements.before.value = next ? next.dataset.item : "";
    form.elements.after.value = item.previousElementSibling?.dataset.item || "";
    form.requestSubmit(item.querySelector('button[value="move.' + CSS.escape(id) + '"]'));
  };
  form.addEventListener("pointerup", drop);
  form.addEventListener("pointercancel", drop);
})();
