// Asks on the page Trust, over https, whether this phone takes the mill's
// certificate, and offers the encrypted page only where it does.
"use strict";
(() => {
  const box = document.getElementById("trusts");
  if (!box) return;
  const show = (what) => { for (const p of box.querySelectorAll("[data-when]")) p.hidden = p.dataset.when !== what; };
  const ask = async () => {
    show("asking");
    let answer = "no";
    try {
      const reply = await fetch(box.dataset.ping, { cache: "no-store", signal: AbortSignal.timeout(8000) });
      if (reply.ok && (await reply.text()) === box.dataset.print) answer = "yes";
    } catch { } // a certificate that is not trusted looks like no server at all
    show(answer);
  };
  box.querySelector("button").addEventListener("click", ask);
  ask();
})();
