// Reads an export of a Stillsaw record ("stillsaw-export-1") and checks what can
// be checked without the mill's database. readExport answers with the places of
// what is wrong, named as the program names them.
const PARTS = ["format", "mill", "made", "selection", "withheld", "checkpoint", "keys", "entries", "also", "photos", "counts", "files"];
const FORMAT = "stillsaw-export-1", SEAL = "stillsaw-export-seal-1", MOST = 1000;
const { Hasher, sha256, utf8, leaf: leafHash, included, toHex, toBase64, fromBase64 } = merkle;
const same = merkle.same;
const digestOf = (bytes) => "sha256:" + toHex(sha256(bytes));
const origin = (mill) => "stillsaw/" + mill;
const decoder = new TextDecoder("utf-8", { fatal: true, ignoreBOM: true });

// canonical is the RFC 8785 form of a value that JSON.parse gave.
const canonical = (value) => {
  if (Array.isArray(value)) return "[" + value.map(canonical).join(",") + "]";
  if (value === null || typeof value !== "object") return JSON.stringify(value);
  return "{" + Object.keys(value).sort().map((key) => JSON.stringify(key) + ":" + canonical(value[key])).join(",") + "}";
};

// shaped tells whether a value has just the members of the shape, of its types.
const shaped = (value, shape) => {
  if (typeof shape === "string") return shape === "whole" ? Number.isSafeInteger(value) : typeof value === shape;
  if (Array.isArray(shape)) return Array.isArray(value) && value.every((one) => shaped(one, shape[0]));
  return value !== null && typeof value === "object" && !Array.isArray(value) &&
    Object.keys(value).sort().join() === Object.keys(shape).sort().join() && Object.keys(shape).every((key) => shaped(value[key], shape[key]));
};
const SHAPES = {
  format: "string", checkpoint: "string",
  mill: { id: "string", name: "string", zone: "string" },
  made: { at: "string", by: { id: "string", name: "string" }, program: "string" },
  selection: { equipment: "string", from: "string", person: "string", subject: "string", until: "string", words: "string" },
  withheld: { names: "boolean", notes: "boolean", photos: "boolean", words: "string" },
  keys: [{ from: "whole", until: "whole", verifier: "string" }],
  counts: { entries: "whole", openings: "whole", photos: "whole", withheld: "whole" },
  files: [{ digest: "string", name: "string", size: "whole" }],
};
const ENTRY = { hash: "string", leaf: "string", openings: [{ path: "string", salt: "string", value: "string" }], proof: ["string"], seq: "whole" };
const PHOTO = { bytes: "string", digest: "string", left: "string", type: "string" };

// Personal fields that say who somebody is and nothing else.
const NAMES = new Set(["name", "minor_until"]);

const parse = (text) => { try { return JSON.parse(text); } catch { return undefined; } };

// A key of the mill, "name+hash+base64 of algorithm and key" (C2SP signed-note).
const readKey = (verifier) => {
  const [, name, hash, text] = /^([^+\s]+)\+([0-9a-f]{8})\+(.+)$/.exec(verifier) || [];
  const bytes = text && fromBase64(text);
  if (!bytes || bytes.length !== 33 || bytes[0] !== 1) return null;
  return toHex(sha256(utf8(name + "\n"), bytes).subarray(0, 4)) === hash ? { name, hash, key: bytes.subarray(1), verifier } : null;
};

// fingerprint is the first 80 bits of SHA-256 of the verifier in base 32.
const fingerprint = (verifier) => {
  const letters = "0123456789ABCDEFGHJKMNPQRSTVWXYZ";
  let bits = 0n;
  for (const byte of sha256(utf8(verifier)).subarray(0, 10)) bits = bits << 8n | BigInt(byte);
  let text = "";
  for (let i = 75n; i >= 0n; i -= 5n) text += letters[Number(bits >> i & 31n)];
  return text.match(/.{4}/g).join(" ");
};

// openNote reads a signed note: its text, and which of the keys signed it. null
// where it is none, or a signature by one of the keys is wrong.
const openNote = (note, keys) => {
  const at = note.lastIndexOf("\n\n");
  if (at < 0 || !note.endsWith("\n")) return null;
  const text = note.slice(0, at + 1), lines = note.slice(at + 2, -1).split("\n"), signed = [];
  for (const line of lines) {
    const [, name, base64] = /^\u2014 ([^+\s]+) (\S+)$/.exec(line) || [];
    const bytes = base64 && fromBase64(base64);
    if (!bytes || bytes.length < 5) return null;
    const key = keys.find((k) => k.name === name && k.hash === toHex(bytes.subarray(0, 4)));
    if (!key) continue;
    let fits = false;
    try { fits = bytes.length === 68 && ed25519.verify(bytes.subarray(4), utf8(text), key.key, { zip215: false }); } catch { fits = false; }
    if (!fits) return null;
    signed.push(key);
  }
  return { text, signed, signatures: lines.length };
};

// readHead is what a checkpoint says: name, size and root, a line each.
const readHead = (text) => {
  const lines = text.split("\n"), root = lines.length === 4 && fromBase64(lines[2]);
  if (!root || root.length !== 32 || !lines[0].startsWith("stillsaw/") || lines[3] !== "" || !/^(0|[1-9]\d{0,15})$/.test(lines[1])) return null;
  return { mill: lines[0].slice(9), size: Number(lines[1]), root };
};

// findCheckpoints reads the checkpoints in a text as people keep them: quoted, with
// empty lines, another dash, a signature over several lines. It is the program's
// record.FindCheckpoints.
const findCheckpoints = (text) => {
  const lines = text.replace(/\r\n?/g, "\n").replaceAll("\u00a0", " ").replace(/[\u00ad\u200b\ufeff]/g, "").split("\n").map((l) => l.replace(/^[> \t|]+/, "").trim()).filter((l) => l);
  const whole = (coded) => { const bytes = fromBase64(coded); return bytes !== null && (bytes.length === 68 || bytes.length === 76); };
  const dash = /^(?:\u2014|\u2013|\u2015|\u2212|--?)\s*/, found = [];
  const signature = (at) => {
    const mark = dash.exec(lines[at] || "");
    if (!mark) return null;
    let words = lines[at].slice(mark[0].length).split(/\s+/).filter((w) => w), next = at + 1;
    if (words.length === 0) words = (lines[next++] || "").split(/\s+/).filter((w) => w);
    if (words.length === 0) return null;
    const name = words[0];
    let coded = words.slice(1).join(""), until = next;
    while (!whole(coded) && coded.length < 104 && until < lines.length && !dash.test(lines[until]) && !lines[until].startsWith("stillsaw/")) coded += lines[until++].replace(/\s+/g, "");
    if (whole(coded)) return { line: name + " " + coded, next: until };
    if (lines[at].startsWith("\u2014 ") || name.startsWith("stillsaw/")) return { line: name + " " + words.slice(1).join(""), next };
    return null;
  };
  for (let i = 0; i + 2 < lines.length; i++) {
    const three = lines.slice(i, i + 3).join("\n") + "\n", head = readHead(three);
    if (!head) continue;
    let signed = "", next = i + 3;
    for (let one = signature(next); one; one = signature(next)) { signed += "\u2014 " + one.line + "\n"; next = one.next; }
    found.push({ ...head, text: signed && three + "\n" + signed });
    i = next - 1;
  }
  return found;
};

// at is the value a JSON pointer leads to.
const at = (body, pointer) => {
  if (!pointer.startsWith("/")) return undefined;
  for (const step of pointer.slice(1).split("/").map((s) => s.replaceAll("~1", "/").replaceAll("~0", "~"))) {
    if (body === null || typeof body !== "object" || !Object.hasOwn(body, step)) return undefined;
    body = body[step];
  }
  return body;
};

// readLeaf takes a leaf apart: the entry, and what its personal fields are sealed
// with by their paths. null for anything the program would not have written.
const readLeaf = (text) => {
  const entry = parse(text);
  if (entry === null || typeof entry !== "object" || Array.isArray(entry) || canonical(entry) !== text || entry.format !== "stillsaw-entry-1") return null;
  const must = { actor: "string", at: "string", body: "object", format: "string", id: "string", kind: "string", mill: "string", offset: "whole", seq: "whole", subject: "string", version: "whole" };
  const may = { happened: "string", happenedOffset: "whole", phone: "string", phoneOffset: "whole", personal: ["string"] }; // a later program may add some
  for (const [key, shape] of Object.entries(must)) if (!Object.hasOwn(entry, key) || key !== "body" && !shaped(entry[key], shape)) return null;
  for (const [key, shape] of Object.entries(may)) if (Object.hasOwn(entry, key) && !shaped(entry[key], shape)) return null;
  const sealed = new Map();
  for (const path of entry.personal || []) {
    const value = at(entry.body, path);
    if (sealed.has(path) || !shaped(value, { sealed: "string" }) || !/^sha256:[0-9a-f]{64}$/.test(value.sealed)) return null;
    sealed.set(path, value.sealed);
  }
  return { entry, sealed };
};

class Reader {
  constructor(held) {
    this.held = held; // heads got another way
    this.header = {}; this.faults = []; this.faultCount = 0; this.spoilt = new Set();
    this.counts = { entries: 0, openings: 0, photos: 0, withheld: 0 }; this.out = 0; this.runs = []; this.entries = [];
    this.whole = new Hasher(); this.parts = new Map(PARTS.map((part) => [part, new Hasher()]));
    this.next = 0; this.list = ""; this.last = -1; this.keys = []; this.head = null; this.key = ""; this.named = new Set(); this.pictured = new Set();
    this.agreed = false; this.number = 0; this.unused = [];
    this.namedKeys = new Map(); this.dropped = new Set(); this.missing = new Map(); this.wanted = new Set(); // see hears and lacks
  }
  fault(part, place, what) {
    this.faultCount++;
    if (part) this.spoilt.add(part);
    if (this.faults.length < MOST) this.faults.push({ place, what });
  }
  part() { return this.list || PARTS[this.next - 1] || ""; }
  bad(what) { this.fault(this.part() || "format", "line " + this.number, "Line " + this.number + " " + what); }

  read(bytes) {
    let from = 0, seal = null, after = bytes.length;
    while (from < bytes.length && seal === null) {
      const end = bytes.indexOf(10, from), until = end < 0 ? bytes.length : end + 1;
      this.number++;
      const line = bytes.subarray(from, until);
      let text;
      try { text = decoder.decode(line); } catch { text = null; }
      from = until;
      if (text !== null && text.startsWith('"seal":')) { seal = text; after = until; } else this.line(line, text);
    }
    if (seal === null) {
      this.fault("end", "end", "The file ends at line " + this.number + ", before its seal: its end is missing.");
      return this;
    }
    this.leaveList(false);
    if (this.next < PARTS.length) this.bad("is the seal, before which more should come.");
    this.judge();
    this.count();
    this.keysNamed();
    this.unexplained();
    this.everything();
    this.seal(seal);
    if (after < bytes.length) this.fault("end", "end", "After the seal something follows.");
    return this;
  }

  line(bytes, text) {
    const begun = text === null ? -1 : PARTS.findIndex((part) => text.startsWith((part === "format" ? "{" : "") + '"' + part + '":'));
    if (begun >= 0) {
      this.leaveList(false);
      if (begun !== this.next) this.bad("does not follow on the line before it: something is missing or in another place.");
      this.next = begun + 1;
    }
    this.whole.add(bytes);
    const hashed = this.parts.get(begun >= 0 ? PARTS[begun] : this.part());
    if (hashed) hashed.add(bytes);
    if (begun >= 0) this.member(PARTS[begun], text);
    else if (this.list && text === "],\n") this.leaveList(true);
    else if (!this.list) this.bad("is none of those an export has.");
    else this.element(text);
  }
  leaveList(closed) {
    if (this.list && (!closed || this.comma)) this.bad("does not end the list of " + this.list + " as it should.");
    this.list = "";
  }
  member(part, text) {
    if (part === "entries" || part === "also" || part === "photos") {
      if (part === "also") this.last = -1;
      this.list = part; this.comma = false; this.some = false;
      if (text !== '"' + part + '":[\n') this.bad("is not in the form the program writes.");
      this.judge();
      return;
    }
    const before = (part === "format" ? "{" : "") + '"' + part + '":';
    const value = text.endsWith(",\n") ? parse(text.slice(before.length, -2)) : undefined;
    if (value === undefined || !shaped(value, SHAPES[part]) || before + canonical(value) + ",\n" !== text) { this.bad("is not in the form the program writes."); return; }
    this.header[part] = value;
    if (part === "format" && value !== FORMAT) this.fault(part, "format", "The file is of the form " + value + "; this page reads " + FORMAT + ".");
  }
  element(text) {
    if (this.some && !this.comma) this.bad("has no comma before it.");
    let inner = text === null ? "" : text.replace(/\n$/, "");
    const ended = text !== null && text.endsWith("\n");
    this.comma = inner.endsWith(",");
    if (this.comma) inner = inner.slice(0, -1);
    this.some = true;
    const value = parse(inner), isEntry = this.list !== "photos";
    if (value === undefined || !shaped(value, isEntry ? ENTRY : PHOTO)) {
      this.bad(isEntry ? "holds an entry that can't be read." : "holds a photo that can't be read.");
      return;
    }
    if (!ended || canonical(value) !== inner) this.bad("is not in the form the program writes.");
    if (this.list === "entries") this.entry(value); else if (isEntry) this.also(value); else this.photo(value);
  }

  judge() {
    if (this.judged) return;
    this.judged = true;
    const mill = this.header.mill ? this.header.mill.id : "";
    if (!mill || /[+\s]/.test(mill)) this.fault("mill", "mill", "The export names no mill.");
    (this.header.keys || []).forEach((key, i) => {
      const read = readKey(key.verifier);
      if (!read || read.name !== origin(mill)) this.fault("keys", "keys", "Key " + (i + 1) + " is not one of this mill's.");
      else this.keys.push({ ...read, from: key.from, until: key.until });
    });
    const text = this.header.checkpoint || "", end = text.indexOf("\n\n"), said = end >= 0 && readHead(text.slice(0, end + 1));
    if (!said) { this.fault("checkpoint", "checkpoint", "The checkpoint can't be read."); return; }
    const opened = openNote(text, this.keysAt(said.size));
    if (!opened || opened.signed.length === 0) {
      this.fault("checkpoint", "checkpoint", "The checkpoint is not signed by the mill's key: it, or the key named beside it, was changed. No proof can be checked.");
      return;
    }
    if (said.mill !== mill) { this.fault("checkpoint", "checkpoint", "The checkpoint is of another mill."); return; }
    this.head = said;
    this.key = opened.signed[0].verifier;
    for (const other of this.held.filter((one) => this.usable(one, mill))) {
      if (other.mill !== mill) this.fault("checkpoint", "checkpoint", "The checkpoint to hold it against is of another mill.");
      else if (other.size === said.size && !same(other.root, said.root)) this.fault("checkpoint", "checkpoint", "The checkpoint to hold it against has another root for the same " + said.size + " entries: one of the two logs was rewritten.");
      else if (other.size === said.size) this.agreed = true;
    }
  }
  // usable tells whether a checkpoint kept elsewhere says anything of this record.
  usable(kept, mill) {
    const unused = (why) => { this.unused.push("The checkpoint of " + kept.size + " entries can't be used: " + why); return false; };
    if (kept.mill !== mill) return unused("it is of another mill's record. It shows nothing about this one.");
    if (kept.text && !openNote(kept.text, this.keysAt(kept.size))) return unused("its signature does not fit its lines, so it was mistyped, cut short or changed after it was signed. Copy it again from where it was kept.");
    return true;
  }
  keysAt(size) { return this.keys.filter((k) => size > k.from && (k.until === 0 || size <= k.until)); }

  entry(line) {
    const n = line.seq, before = this.faultCount;
    this.counts.entries++;
    this.inTurn(n);
    const run = this.runs[this.runs.length - 1];
    if (run && run[1] + 1 === n) run[1] = n; else this.runs.push([n, n]);
    const read = this.leaf(line), shown = new Map();
    if (read) {
      this.openings(line, read, shown);
      this.lacks(n, read, line);
      for (const [found] of line.leaf.matchAll(/"[0-9a-f]{64}"/g)) this.named.add(found.slice(1, -1));
      for (const [, digest] of line.leaf.matchAll(/"(?:photo|mend_photo|picture)":"([0-9a-f]{64})"/g)) this.wanted.add(digest);
    }
    const sound = this.head !== null && this.faultCount === before;
    if (sound) this.hears(read.entry);
    this.entries.push({ seq: n, read, shown, sound });
  }
  // also checks an entry that was not asked for and that the others lean on.
  also(line) {
    const before = this.faultCount;
    this.inTurn(line.seq);
    const read = this.leaf(line);
    if (line.openings.length > 0) this.wrongIn(line.seq, "opening", " was not asked for, and personal values of it are shown.");
    if (this.head !== null && this.faultCount === before) this.hears(read.entry);
  }
  wrongIn(n, part, what) { this.fault(this.list, ("entry " + n + " " + part).trim(), "Entry " + n + what); }
  inTurn(n) {
    if (n <= this.last) this.wrongIn(n, "", " does not come after entry " + this.last + ".");
    this.last = n;
  }
  // hears takes in what a proven entry says of the record itself: which key signs,
  // what was dropped.
  hears({ kind, seq, body }) {
    if (kind === "log-key") this.namedKeys.set(seq, body.verifier);
    if (kind !== "dropped") return;
    for (const { seq: of, paths } of body.values || []) {
      const left = of < seq ? this.missing.get(of) : null;
      for (const path of left ? paths : []) left.delete(path);
    }
    for (const digest of body.photos || []) this.dropped.add(digest);
  }
  // lacks notes the personal fields that are neither shown nor kept back.
  lacks(n, read, line) {
    const { names = false, notes = false } = this.header.withheld || {};
    for (const path of read.sealed.keys()) {
      if (names || notes && !NAMES.has(path.slice(path.lastIndexOf("/") + 1)) || line.openings.some((o) => o.path === path)) continue;
      if (!this.missing.has(n)) this.missing.set(n, new Set());
      this.missing.get(n).add(path);
    }
  }
  // keysNamed holds the keys against the entries of the record that name them.
  keysNamed() {
    if (!this.head || this.spoilt.has("keys")) return;
    const keys = this.header.keys || [], bad = (what) => this.fault("keys", "keys", what);
    keys.forEach((key, i) => {
      if (this.namedKeys.get(key.from) !== key.verifier) bad("Key " + (i + 1) + ", " + fingerprint(key.verifier) + ", is not proven to be the mill's: entry " + key.from + " of the record does not name it.");
      else if (key.until !== (keys[i + 1]?.from ?? 0)) bad("Key " + (i + 1) + " was in use until another was named, which is not what is said of it.");
    });
    for (const seq of this.namedKeys.keys()) if (!keys.some((key) => key.from === seq)) bad("Entry " + seq + " names a key of the mill that the export does not name.");
  }
  // unexplained notes what is left out without a word that is proven.
  unexplained() {
    if (!this.head) return;
    if (!this.spoilt.has("withheld")) for (const [n, paths] of this.missing) for (const path of paths) {
      this.fault("entries", "entry " + n + " opening " + path, "Entry " + n + ": what was written at " + path + " is not shown. The export does not say that it is kept back, and no entry in it that it was dropped.");
    }
    for (const digest of this.wanted) if (!this.pictured.has(digest)) this.fault("photos", "photo " + digest.slice(0, 12), "An entry names the photo " + digest.slice(0, 12) + ", and the list of photos does not.");
  }
  // leaf checks that the leaf of an entry is one, and lies where it is said to.
  leaf(line) {
    const n = line.seq, fault = (part, what) => this.wrongIn(n, part, what);
    const hash = leafHash(utf8(line.leaf)), read = readLeaf(line.leaf);
    const wrong = this.inclusion(line, hash, read !== null && read.entry.seq === n);
    if (wrong) fault(wrong, { hash: " is proven, but the hash noted beside it is another one.", leaf: " was changed: its text is not what its hash was made of.",
      proof: ": its proof does not lead to the checkpoint. The proof was changed, or the entry never stood there.", seq: " does not lie under the checkpoint at that place." }[wrong]);
    if (!read && !wrong) fault("leaf", " is proven, but it is not an entry this page reads.");
    if (read) {
      if (read.entry.mill !== this.header.mill?.id) fault("", " belongs to another mill.");
      if (read.entry.seq !== n) fault("", " was written as entry " + read.entry.seq + ".");
    }
    return read;
  }
  inclusion(line, hash, inPlace) {
    const noted = toBase64(hash) === line.hash;
    if (!this.head) return noted ? "" : "leaf";
    const proof = line.proof.map(fromBase64);
    if (proof.some((p) => !p || p.length !== 32)) return "proof";
    const lies = (h) => included(proof, this.head.size, this.head.root, line.seq, h);
    if (lies(hash)) return noted ? "" : "hash";
    if (!noted) {
      const said = fromBase64(line.hash);
      return said && said.length === 32 && !lies(said) && inPlace ? "proof" : "leaf";
    }
    return inPlace ? "proof" : "seq";
  }
  openings(line, read, shown) {
    const fault = (part, what) => this.wrongIn(line.seq, part, what);
    this.counts.openings += line.openings.length;
    this.counts.withheld += Math.max(0, read.sealed.size - line.openings.length);
    for (const o of line.openings) {
      const salt = fromBase64(o.salt), want = read.sealed.get(o.path);
      if (want === undefined) fault("opening " + o.path, ": there is a value for " + o.path + ", which is no personal field of it.");
      else if (shown.has(o.path)) fault("opening " + o.path, ": there is a second value for " + o.path + ".");
      else if (!salt || salt.length !== 32 || "sha256:" + toHex(sha256(utf8("stillsaw personal value 1\n"), salt, utf8(o.value))) !== want) fault("opening " + o.path, ": what is shown at " + o.path + " is not what was written.");
      else shown.set(o.path, o.value);
    }
  }
  photo(line) {
    this.counts.photos++;
    const short = line.digest.slice(0, 12), fault = (what) => this.fault("photos", "photo " + short, what);
    if (this.pictured.has(line.digest)) fault("The photo " + short + " is there twice.");
    this.pictured.add(line.digest);
    if (!this.named.has(line.digest)) fault("No entry of the export names the photo " + short + ".");
    if (line.left !== "" && line.bytes === "") {
      this.out++;
      const said = line.left === "left out" && this.header.withheld?.photos || line.left === "dropped" && this.dropped.has(line.digest);
      if (said || !this.head || this.spoilt.has("withheld")) return;
      if (line.left === "dropped") fault("The photo " + short + " is said to be dropped, and no entry in the export says so.");
      else fault("The photo " + short + " is not there. The export does not say that photos are kept back, and no entry in it that this one was dropped.");
      return;
    }
    const bytes = fromBase64(line.bytes);
    if (!bytes || toHex(sha256(bytes)) !== line.digest || line.left !== "") fault("The photo " + short + " is not the one whose digest the entry holds.");
  }

  count() {
    const said = this.header.counts || { entries: 0, openings: 0, photos: 0, withheld: 0 }, of = { entries: "entries", openings: "personal values shown", withheld: "personal values left out", photos: "photos" };
    for (const what of ["entries", "openings", "withheld", "photos"]) {
      const part = what === "photos" ? "photos" : "entries";
      if (said[what] !== this.counts[what] && !this.spoilt.has(part)) this.fault(part, "counts", "The export says " + said[what] + " " + of[what] + ", there are " + this.counts[what] + ".");
    }
  }
  // everything notes an entry that is left out of an export which asked for all.
  everything() {
    const { equipment = "", from = "", person = "", subject = "", until = "" } = this.header.selection || {};
    if (equipment + from + person + subject + until !== "" || !this.head || this.spoilt.has("entries") || this.spoilt.has("selection")) return;
    const missing = this.runs.length && this.runs[0][0] === 0 ? this.runs[0][1] + 1 : 0;
    if (missing < this.head.size) this.fault("entries", "entry " + missing, "The export was asked for everything, and entry " + missing + " is not in it.");
  }
  seal(line) {
    const bad = (what) => this.fault("seal", "seal", what);
    const text = line.endsWith("}\n") ? parse(line.slice(7, -2)) : undefined;
    if (typeof text !== "string") { bad("The seal can't be read."); return; }
    if ('"seal":' + JSON.stringify(text) + "}\n" !== line) { bad("The seal is not in the form the program writes."); return; }
    const opened = openNote(text, this.head ? this.keysAt(this.head.size) : this.keys);
    if (!opened || opened.signed.length !== 1 || opened.signatures !== 1) { bad("The seal is not signed by the mill's key: it was changed, or the export was made by somebody else."); return; }
    if (this.key && opened.signed[0].verifier !== this.key) bad("The seal is signed with another key than the checkpoint.");
    const sums = PARTS.map((part) => [part, "sha256:" + toHex(this.parts.get(part).sum())]), mill = this.header.mill ? this.header.mill.id : "";
    const want = [SEAL, origin(mill), "whole sha256:" + toHex(this.whole.sum()), ...sums.map((s) => s.join(" "))].join("\n") + "\n";
    if (opened.text === want) return;
    const said = new Map(opened.text.split("\n").map((l) => l.split(" ")));
    let located = this.spoilt.size > 0;
    for (const [part, sum] of sums) {
      if (said.get(part) === sum || this.spoilt.has(part)) continue;
      this.fault(part, part, "What stands under \u201c" + part + "\u201d is not what was sealed.");
      located = true;
    }
    if (!located) bad("The file is not the one that was sealed.");
  }
}

globalThis.stillsawExport = {
  read: (bytes, held = []) => new Reader(held).read(bytes),
  fingerprint, digestOf, findCheckpoints, openNote, readKey,
};
