// Shows of the parts marked data-kind only those whose name holds what is typed
// into input[data-sift]; asks nothing of the server.
"use strict";
for (const box of document.querySelectorAll("[data-sift]")) box.hidden = false;
document.addEventListener("input", (event) => {
  if (!event.target.matches("[data-sift] input")) return;
  const wanted = event.target.value.trim().toLowerCase();
  for (const part of document.querySelectorAll("[data-kind]")) part.hidden = !part.dataset.kind.toLowerCase().includes(wanted);
});
