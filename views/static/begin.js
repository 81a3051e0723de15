// Brings the other scripts once all of the page is there: their address is this
// script's data-rest, and html[data-ready] says that they have begun. A browser
// too old for them loads a page that shows how things stand anew, instead, after
// body[data-refresh] seconds. Written in the language of such browsers.
"use strict";
(function () {
  var me = document.currentScript, body = document.body, wait = Number(body.getAttribute("data-refresh"));
  function again() {
    setTimeout(function () { location.reload(); }, wait * 1000);
  }
  function rest() {
    var script = document.createElement("script");
    script.src = me.getAttribute("data-rest");
    script.onload = function () { document.documentElement.setAttribute("data-ready", ""); };
    if (wait) script.onerror = again;
    document.head.appendChild(script);
  }
  if (wait && !(window.EventSource && window.fetch && window.AbortSignal && AbortSignal.timeout)) again();
  if (document.readyState === "complete") rest();
  else addEventListener("load", rest);
})();
