// Turns a wall screen over where it is higher than the screen: nobody scrolls
// there. [data-turns] marks such a page.
"use strict";
if (document.querySelector("[data-turns]")) setInterval(() => {
  const page = document.documentElement, end = scrollY + innerHeight >= page.scrollHeight - 4;
  scrollTo({ top: end ? 0 : scrollY + innerHeight * 0.85, behavior: "instant" });
}, 12000);
