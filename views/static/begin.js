// Brings the other scripts and their style once all of the page is there: all of
// this script's data-then at once, run in their order; html[data-ready] says that
// all have begun. Until then it marks what is typed, data-typed, so that a draft
// put back does not undo it. A page that shows how things stand loads itself anew
// after body[data-refresh] seconds where they did not come or the browser is too old
// for them. Written in the language of such browsers.
"use strict";
(function () {
  var then = document.currentScript.getAttribute("data-then").match(/\S+/g), left = then.length, root = document.documentElement;
  var wait = document.body.getAttribute("data-refresh");
  function come() {
    if (!--left) root.setAttribute("data-ready", "");
  }
  function bring(to) {
    var style = /css$/.test(to), part = document.createElement(style ? "link" : "script");
    part.rel = "stylesheet";
    part.async = false;
    part[style ? "href" : "src"] = to;
    part.onload = come;
    part.onerror = function () {
      setTimeout(bring, 5000, to);
    };
    document.head.appendChild(part);
  }
  function all() {
    then.forEach(function (to) { bring(to); });
  }
  document.addEventListener("input", function (event) {
    if (!root.hasAttribute("data-ready")) event.target.setAttribute("data-typed", "");
  });
  if (wait) setTimeout(function () {
    if (!(window.outbox && AbortSignal.timeout)) location.reload();
  }, wait * 1000);
  if (document.readyState === "complete") all();
  else addEventListener("load", all);
})();
