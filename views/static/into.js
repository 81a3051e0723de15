// Posts a form marked data-into="#part" by fetch and swaps that part of the
// reply in. On any surprise the form is sent as if there were no script; the
// submission id in it keeps the act from being done twice.
"use strict";
document.addEventListener("submit", async (event) => {
  const form = event.target, button = event.submitter, into = form.dataset.into;
  if (!into || event.defaultPrevented || !document.querySelector(into)) return;
  event.preventDefault();
  if (form.dataset.busy) return;
  form.dataset.busy = "yes";
  const body = new FormData(form);
  if (button && button.name) body.append(button.name, button.value);
  const action = (button && button.getAttribute("formaction")) || form.getAttribute("action") || location.href;
  const files = form.getAttribute("enctype") === "multipart/form-data";
  try {
    const reply = await fetch(action, {
      method: "POST",
      body: files ? body : new URLSearchParams(body),
      headers: { Accept: "text/html" },
      signal: AbortSignal.timeout(20000),
    });
    const page = new DOMParser().parseFromString(await reply.text(), "text/html");
    // Problems stand all over the page, so it comes whole; also where old ones are to go.
    const wanted = reply.status === 422 || (document.querySelector(".wrong") && page.querySelector(into)) ? "main" : into;
    const fresh = page.querySelector(wanted), old = document.querySelector(wanted);
    if (reply.ok && reply.redirected && !fresh) return location.assign(reply.url);
    if (!(reply.ok || reply.status === 422) || !fresh || !old) throw new Error("not the page expected");
    // What is sent next from this form is another act, with an id of its own.
    const id = form.querySelector("[name=submission]");
    const next = page.querySelector("form[data-into='" + into + "'] [name=submission]");
    if (id && next) id.value = next.value;
    old.replaceWith(fresh);
    document.dispatchEvent(new CustomEvent("swapped", { detail: page }));
    const shown = document.querySelector(into + "[data-show]");
    if (reply.ok && shown) {
      shown.tabIndex = -1;
      shown.focus({ preventScroll: true }); // the button is above the page by now
      shown.scrollIntoView();
    }
    document.dispatchEvent(new CustomEvent("replied", { detail: page.body.dataset }));
    const wrong = reply.status === 422 && fresh.querySelector("[aria-invalid], .bad input");
    if (wrong) wrong.focus();
    delete form.dataset.busy;
  } catch (wrong) {
    delete form.dataset.busy;
    if (wrong.message !== "not the page expected") globalThis.outbox?.hear(false);
    if (!form.dataset.outboxTo) form.removeAttribute("data-into");
    form.requestSubmit(button && button.isConnected ? button : undefined);
  }
});

// An answer marked data-old no longer holds once its form is changed.
document.addEventListener("input", (event) => {
  const into = event.target.form?.dataset.into, part = into && document.querySelector(into + "[data-old]");
  if (!part || part.contains(event.target) || !part.querySelector(".badge")) return;
  part.classList.add("old");
  const said = document.querySelector("h1");
  if (said) said.textContent = document.title = part.dataset.old;
});
