// Counts [data-until] (the server's clock, in milliseconds) down to data-over,
// the text for then. A page brought back from memory counts too long rather than
// too short.
"use strict";
(() => {
  const ahead = Date.now() - Number(document.body.dataset.now || Date.now());
  const tick = () => {
    for (const clock of document.querySelectorAll("[data-until]")) {
      const left = Math.ceil((Number(clock.dataset.until) - Date.now() + ahead) / 1000);
      clock.classList.toggle("over", left <= 0);
      clock.textContent = left > 0 ? Math.floor(left / 60) + ":" + String(left % 60).padStart(2, "0") : clock.dataset.over;
    }
  };
  tick();
  setInterval(tick, 500);
})();
