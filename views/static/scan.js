// Reads a tag, a plate or a placard with the camera, where the browser can: the
// button [data-scan="id"] fills in that input, one without an id opens what it
// reads, if that is an address of this mill's own; anything else is shown, never
// followed. Where the browser can't, the buttons stay away.
"use strict";
(async () => {
  const buttons = () => document.querySelectorAll("[data-scan]");
  if (!buttons().length || !globalThis.BarcodeDetector || !navigator.mediaDevices?.getUserMedia) return;
  const wanted = ["qr_code", "code_128", "code_39", "ean_13", "data_matrix", "itf"];
  const formats = (await BarcodeDetector.getSupportedFormats()).filter((f) => wanted.includes(f));
  if (!formats.length) return;
  const detector = new BarcodeDetector({ formats });
  const show = () => buttons().forEach((button) => (button.hidden = false));
  show();
  for (const kind of ["turned", "swapped"]) document.addEventListener(kind, show);

  const take = (button, text, said) => {
    const input = document.getElementById(button.dataset.scan);
    if (input) {
      input.value = text.trim().slice(0, 200);
      for (const kind of ["input", "change"]) input.dispatchEvent(new Event(kind, { bubbles: true }));
      input.focus();
      return true;
    }
    let to = null;
    try { to = new URL(text); } catch {} // no address: shown as it is
    if (to && /^https?:$/.test(to.protocol) && to.hostname === location.hostname && !to.username && !to.password) {
      location.assign(location.origin + to.pathname + to.search);
      return true;
    }
    said.textContent = text.slice(0, 200);
    return false;
  };
  document.addEventListener("click", async (event) => {
    const button = event.target.closest("[data-scan]");
    if (!button) return;
    const dialog = document.createElement("dialog"), video = document.createElement("video"), said = document.createElement("p"), close = document.createElement("button");
    dialog.className = "panel scan";
    dialog.setAttribute("aria-label", button.getAttribute("aria-label") || button.textContent.trim());
    Object.assign(video, { muted: true, playsInline: true });
    said.setAttribute("role", "status");
    close.type = "button";
    close.textContent = button.dataset.close;
    close.addEventListener("click", () => dialog.close());
    dialog.append(video, said, close);
    document.body.append(dialog);
    dialog.showModal();
    let stream = null;
    dialog.addEventListener("close", () => {
      stream?.getTracks().forEach((track) => track.stop());
      dialog.remove();
    });
    try {
      stream = await navigator.mediaDevices.getUserMedia({ video: { facingMode: "environment" } });
      if (!dialog.open) return stream.getTracks().forEach((track) => track.stop());
      video.srcObject = stream;
      await video.play();
    } catch (error) {
      said.textContent = error.message;
      return;
    }
    while (dialog.open) {
      const [found] = await detector.detect(video).catch(() => []);
      if (dialog.open && found?.rawValue && said.textContent !== found.rawValue.slice(0, 200) && take(button, found.rawValue, said)) {
        navigator.vibrate?.(30);
        dialog.close();
        break;
      }
      await new Promise((later) => setTimeout(later, 200));
    }
  });
})().catch(() => {});
