// Makes a chosen photo at most 1600 px long, as JPEG, before it is sent. Where
// the browser can't, the photo goes as it is and the server shrinks it.
"use strict";
(() => {
  const most = 1600, working = new Map();
  const shrink = async (file) => {
    if (!file.type.startsWith("image/")) return file;
    const picture = await createImageBitmap(file, { imageOrientation: "from-image" });
    const scale = Math.min(1, most / Math.max(picture.width, picture.height));
    const canvas = document.createElement("canvas");
    canvas.width = Math.round(picture.width * scale);
    canvas.height = Math.round(picture.height * scale);
    canvas.getContext("2d").drawImage(picture, 0, 0, canvas.width, canvas.height);
    const blob = await new Promise((done) => canvas.toBlob(done, "image/jpeg", 0.85));
    if (!blob || (scale === 1 && blob.size >= file.size)) return file;
    return new File([blob], file.name.replace(/\.\w+$/, "") + ".jpg", { type: "image/jpeg" });
  };
  const work = async (input) => {
    try {
      const small = new DataTransfer();
      for (const file of [...input.files]) small.items.add(await shrink(file));
      input.files = small.files;
    } catch {} // the original is still chosen
  };
  document.addEventListener("change", (event) => {
    const input = event.target;
    if (!input.matches("input[type=file][data-shrink]") || !input.files.length) return;
    const done = work(input).finally(() => {
      if (working.get(input.form) === done) working.delete(input.form);
      input.dispatchEvent(new Event("shrunk", { bubbles: true }));
    });
    working.set(input.form, done);
  });
  // A form sent while a photo is in work waits for it. On window and capturing, so it comes before the others.
  addEventListener("submit", (event) => {
    const done = working.get(event.target);
    if (!done) return;
    const form = event.target, button = event.submitter;
    event.preventDefault();
    event.stopImmediatePropagation();
    done.then(() => form.requestSubmit(button));
  }, true);
})();
