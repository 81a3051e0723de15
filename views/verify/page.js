// What the page does with the files chosen: read them, check them, say it.
const { read, fingerprint, digestOf, findCheckpoints } = stillsawExport;
const by = (id) => document.getElementById(id);
const make = (tag, text, ...inside) => {
  const node = document.createElement(tag);
  if (text) node.textContent = text;
  node.append(...inside);
  return node;
};
const MEMBER_MOST = 1 << 29;

// unzip reads the members of a ZIP, stored or packed, by its list at the end.
const unzip = async (bytes) => {
  const view = new DataView(bytes.buffer, bytes.byteOffset, bytes.length), members = [];
  let end = bytes.length - 22;
  while (end >= 0 && view.getUint32(end, true) !== 0x06054b50) end--;
  if (end < 0) throw new Error("The ZIP has no list of what is in it: its end is missing.");
  let at = view.getUint32(end + 16, true);
  for (let left = view.getUint16(end + 10, true); left > 0; left--) {
    if (view.getUint32(at, true) !== 0x02014b50) throw new Error("The ZIP's list can't be read.");
    const [method, packed, size] = [view.getUint16(at + 10, true), view.getUint32(at + 20, true), view.getUint32(at + 24, true)];
    const [name, extra, comment, start] = [view.getUint16(at + 28, true), view.getUint16(at + 30, true), view.getUint16(at + 32, true), view.getUint32(at + 42, true)];
    const label = new TextDecoder().decode(bytes.subarray(at + 46, at + 46 + name));
    const from = start + 30 + view.getUint16(start + 26, true) + view.getUint16(start + 28, true);
    let content = bytes.subarray(from, from + packed);
    if (size > MEMBER_MOST) throw new Error(label + " is larger than this page reads.");
    if (method === 8) content = await inflate(content, size, label);
    else if (method !== 0) throw new Error(label + " is packed in a way this page does not know.");
    members.push({ name: label, bytes: content });
    at += 46 + name + extra + comment;
  }
  return members;
};

const inflate = async (packed, size, label) => {
  const out = new Uint8Array(size), reader = new Blob([packed]).stream().pipeThrough(new DecompressionStream("deflate-raw")).getReader();
  let at = 0;
  for (;;) {
    const { done, value } = await reader.read();
    if (done) break;
    if (at + value.length > size) throw new Error(label + " is larger than the ZIP says.");
    out.set(value, at);
    at += value.length;
  }
  return out.subarray(0, at);
};

// heldKey says how the key somebody knows stands to an export, by the keys the
// record names.
const heldKey = (report, named) => {
  if (!named || !report.key) return null;
  const bare = (text) => text.replace(/[\s-]+/g, "").toUpperCase();
  const is = (verifier) => named === verifier || bare(named) === bare(fingerprint(verifier)), now = fingerprint(report.key);
  if (is(report.key)) return { is: "matches", text: "It is the one that signed this." };
  const former = report.spoilt.has("keys") || report.spoilt.has("entries") ? undefined : report.header.keys.findLast((k) => k.until > 0 && is(k.verifier));
  if (former) return { is: "former", text: "That is a former key of this mill, in use until entry " + former.until + "; the one now is " + now + ". That it was put in place of yours by the mill itself, only the mill can tell you: ask for the key in use." };
  return { is: "foreign", text: "It is not this mill's by this file, which is signed with " + now + ". Either it was mistyped, or came into use after this was made, or the file is another's." };
};

// check holds an export against itself and the files given with it. strict: all
// files come from one ZIP, so that none may be missing.
const check = (name, bytes, beside, strict, held, key) => {
  const report = read(bytes, held), notes = [];
  const named = report.header.files || [];
  const found = new Set();
  for (const file of beside) {
    const digest = digestOf(file.bytes);
    const fits = named.find((f) => f.digest === digest && f.size === file.bytes.length && (!strict || f.name === file.name));
    if (fits) { found.add(fits.name); continue; }
    if (named.some((f) => f.name === file.name)) {
      found.add(file.name);
      report.fault("", "file " + file.name, file.name + " is not the file that was made with this export.");
    } else report.fault("", "file " + file.name, file.name + " is none of the files this export names.");
  }
  for (const f of named) {
    if (found.has(f.name)) continue;
    if (strict) report.fault("", "file " + f.name, f.name + ", which belongs to this export, is missing.");
    else notes.push(f.name + " was not given, and not checked.");
  }
  for (const unused of report.unused) notes.push(unused);
  for (const kept of held) {
    if (kept.mill !== report.head?.mill || report.agreed || report.faultCount > 0 || report.unused.length > 0) continue;
    notes.push("The checkpoint you gave is of " + kept.size + " entries, this one of " + report.head.size + ": this export can't show that the one goes on from the other. The program can, with the mill's answer to /checkpoint/consistency?from=" + Math.min(kept.size, report.head.size) + " kept as a file: stillsaw verify CHECKPOINT PROOF EXPORT.");
  }
  const keyed = heldKey(report, key.trim());
  return { name, report, notes, keyed };
};

const span = ([first, last]) => first === last ? "entry " + first : "entries " + first + " to " + last;
const runsOf = (runs) => {
  const long = runs.filter(([a, b]) => b > a).sort((x, y) => y[1] - y[0] - x[1] + x[0]).slice(0, 5).sort((x, y) => x[0] - y[0]);
  const told = long.reduce((n, [a, b]) => n + b - a + 1, 0), all = runs.reduce((n, [a, b]) => n + b - a + 1, 0);
  if (long.length === 0) return all + " single entries, with gaps between them";
  return long.map(span).join(", ") + " without a gap" + (all > told ? ", and " + (all - told) + " others" : "");
};
const when = (entry) => {
  const local = new Date(Date.parse(entry.happened ?? entry.at) + (entry.happenedOffset ?? entry.offset) * 60000);
  return local.toISOString().slice(0, 16).replace("T", " ");
};
// atMill is a moment by the mill's clock.
const atMill = (text, zone) => {
  try {
    const parts = Object.fromEntries(new Intl.DateTimeFormat("en-GB", { timeZone: zone, year: "numeric", month: "2-digit", day: "2-digit", hour: "2-digit", minute: "2-digit", hourCycle: "h23", timeZoneName: "short" }).formatToParts(new Date(text)).map((p) => [p.type, p.value]));
    return parts.year + "-" + parts.month + "-" + parts.day + " " + parts.hour + ":" + parts.minute + " " + parts.timeZoneName;
  } catch { return text; }
};
const SHOWN = 200;

const say = ({ name, report, notes, keyed }) => {
  const sound = report.faultCount === 0, h = report.header, part = make("section");
  part.className = sound && keyed?.is !== "foreign" ? "sound" : "altered";
  part.dataset.places = report.faults.map((f) => f.place).join("\n");
  part.append(make("h2", sound ? "Sound: nothing in " + name + " was changed" : "Altered: " + name + " is not what was sealed"));
  if (keyed && keyed.is === "foreign") part.append(make("p", "", make("strong", "The key you gave is another one. " + keyed.text)));
  if (!sound) {
    const list = make("ul");
    for (const f of report.faults.slice(0, 100)) list.append(make("li", f.place + ": " + f.what));
    if (report.faultCount > 100) list.append(make("li", "and " + (report.faultCount - 100) + " more"));
    part.append(list);
  }
  const facts = make("dl"), fact = (what, is) => { if (is) facts.append(make("dt", what), make("dd", is)); };
  fact("Mill", h.mill && h.mill.name + " (" + h.mill.id + ")");
  fact("Asked for", h.selection?.words);
  fact("Kept back", h.withheld?.words);
  fact("Made", h.made && atMill(h.made.at, h.mill?.zone) + (h.made.by.name ? " by " + h.made.by.name : "") + ", " + h.made.program);
  fact("Here", runsOf(report.runs) + "; " + report.counts.withheld + " personal values left out; " + report.counts.photos + " photos, " + report.out + " of them without the picture");
  fact("Checkpoint", report.head && "The mill's signed word on all its entries when this was made: one number, the root, over every one of them. " + report.head.size + " entries, root " + merkle.toBase64(report.head.root) + (report.agreed ? "; the one you gave says the same" : ""));
  fact("Key", report.key && fingerprint(report.key) + ". What the mill signs with; these four groups name it, and should be those it gave you another way.");
  fact("The key you gave", keyed && keyed.text);
  for (const note of notes) fact("Not checked", note);
  part.append(facts);
  part.append(make("p", "What this can't show: whether entries were left out of the selection other than by the gaps in their numbers, and whose key it is. Compare the key above with one the mill gave you another way: by telephone, on paper, in an older export. Whoever holds that key can write another record; only a checkpoint somebody kept from before shows it."));
  const entries = make("details", "", make("summary", "The entries (" + report.entries.length + ")"));
  entries.addEventListener("toggle", () => { if (entries.open && entries.children.length === 1) more(entries, report.entries, 0); });
  part.append(entries);
  return part;
};

const more = (into, entries, from) => {
  for (const e of entries.slice(from, from + SHOWN)) {
    const card = make("article");
    card.append(make("h3", e.seq + (e.read ? " \u00b7 " + when(e.read.entry) + " \u00b7 " + e.read.entry.kind : "") + (e.sound ? "" : " \u00b7 not proven")));
    if (e.read) {
      for (const [path, value] of e.shown) if (value) card.append(make("p", path + ": " + value));
      card.append(make("details", "", make("summary", "As it stands in the record"), make("pre", JSON.stringify(e.read.entry, null, 1))));
    }
    into.append(card);
  }
  if (from + SHOWN >= entries.length) return;
  const button = make("button", "Show more");
  button.type = "button";
  button.addEventListener("click", () => { button.remove(); more(into, entries, from + SHOWN); });
  into.append(button);
};

const isZip = (bytes) => bytes[0] === 0x50 && bytes[1] === 0x4b;
const isExport = (file) => file.name.toLowerCase().endsWith(".json") || file.bytes[0] === 0x7b;

const checkAll = async (files) => {
  const answer = by("answer"), held = [], asked = by("checkpoint").value;
  answer.replaceChildren(make("p", "Checking\u2026"));
  await new Promise((done) => setTimeout(done));
  const sections = [];
  try {
    if (asked.trim()) {
      held.push(...findCheckpoints(asked));
      if (held.length === 0) throw new Error("The checkpoint you gave can't be read: want the log's name, its size and its root, a line each.");
    }
    const given = [], zips = [];
    for (const file of files) {
      const one = { name: file.name, bytes: new Uint8Array(await file.arrayBuffer()) };
      if (isZip(one.bytes)) zips.push(one); else given.push(one);
    }
    const key = by("key").value, beside = given.filter((f) => !isExport(f));
    for (const zip of zips) {
      const members = await unzip(zip.bytes), texts = members.filter(isExport);
      if (texts.length !== 1) throw new Error(zip.name + " holds " + texts.length + " exports, not one.");
      sections.push(check(zip.name, texts[0].bytes, members.filter((m) => m !== texts[0]), true, held, key));
    }
    for (const file of given.filter(isExport)) sections.push(check(file.name, file.bytes, beside, false, held, key));
    if (sections.length === 0) throw new Error("There is no export among these files. Choose record.json, or the ZIP.");
    answer.replaceChildren(...sections.map(say));
  } catch (err) {
    const part = make("section", "", make("h2", "This can't be checked"), make("p", err.message));
    part.className = "altered";
    part.dataset.places = "file";
    answer.replaceChildren(part);
  }
  answer.dataset.done = String(Number(answer.dataset.done || 0) + 1);
};

let chosen = [];
by("files").addEventListener("change", (e) => { chosen = [...e.target.files]; checkAll(chosen); });
by("again").addEventListener("click", () => { if (chosen.length > 0) checkAll(chosen); });
for (const name of ["dragover", "drop"]) document.addEventListener(name, (e) => e.preventDefault());
document.addEventListener("drop", (e) => { chosen = [...e.dataTransfer.files]; checkAll(chosen); });
by("files").disabled = false;
