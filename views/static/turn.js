// Turns a wall screen over where it is higher than the screen: nobody scrolls
// there. [data-turns] marks such a page. Whoever presses a key or touches it has it
// to themselves for two minutes (WCAG 2.2, 2.2.2).
"use strict";
if (document.querySelector("[data-turns]")) {
  let theirs = 0;
  for (const act of ["keydown", "pointerdown", "wheel"]) addEventListener(act, () => (theirs = Date.now() + 120000), { passive: true });
  setInterval(() => {
    if (Date.now() < theirs) return;
    const page = document.documentElement, end = scrollY + innerHeight >= page.scrollHeight - 4;
    scrollTo({ top: end ? 0 : scrollY + innerHeight * 0.85, behavior: "instant" });
  }, 12000);
}
