// Tells the server what the phone's own clock says at the moment of signing:
// milliseconds since 1970 and minutes east of UTC, into input[data-phone].
"use strict";
document.addEventListener("submit", function (event) {
  var input = event.target.querySelector("input[data-phone]");
  if (input) input.value = Date.now() + " " + -new Date().getTimezoneOffset();
}, true);
