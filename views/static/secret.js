// A PIN or password is there until its page is left: fields of secrets are emptied
// then, and where the browser brings a page back from its memory. Else whoever has
// the phone next goes back to it and signs with it.
"use strict";
(() => {
  const empty = () => {
    for (const input of document.querySelectorAll("input[type=password]")) input.value = "";
  };
  addEventListener("pagehide", empty);
  addEventListener("pageshow", (event) => event.persisted && empty());
})();
