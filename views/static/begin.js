// Brings the other scripts once all of the page is there, in the order of this
// script's data-then; html[data-ready] says that all have begun. Until then it
// marks what is typed, data-typed, so that a draft put back does not undo it. A
// browser too old for them loads a page that shows how things stand anew, after
// body[data-refresh] seconds. Written in the language of such browsers.
"use strict";
(function () {
  var next = document.currentScript.getAttribute("data-then").split(" "), root = document.documentElement;
  var wait = Number(document.body.getAttribute("data-refresh")) * 1000;
  function again() {
    setTimeout(function () { location.reload(); }, wait);
  }
  function bring() {
    var script = document.createElement("script");
    script.src = next.shift();
    if (!script.getAttribute("src")) return root.setAttribute("data-ready", "");
    script.onload = bring;
    script.onerror = function () {
      if (wait) again();
      bring();
    };
    document.head.appendChild(script);
  }
  document.addEventListener("input", function (event) {
    if (!root.hasAttribute("data-ready")) event.target.setAttribute("data-typed", "");
  });
  if (wait && !(window.EventSource && window.fetch && window.AbortSignal && AbortSignal.timeout)) again();
  if (document.readyState === "complete") bring();
  else addEventListener("load", bring);
})();
