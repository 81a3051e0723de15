// SHA-256 (FIPS 180-4) and the Merkle tree of RFC 6962 section 2.1, without
// crypto.subtle, which a page at a plain address or from a stick may not have.
// merkle.consistent tells whether a log goes on from an older one.
"use strict";
globalThis.merkle = (() => {
  const K = new Uint32Array(64), START = new Uint32Array(8);
  for (let n = 2, found = 0; found < 64; n++) { // fractions of the roots of the first primes
    let prime = true;
    for (let d = 2; d * d <= n; d++) if (n % d === 0) prime = false;
    if (!prime) continue;
    const fraction = (x) => Math.floor((x - Math.floor(x)) * 4294967296);
    if (found < 8) START[found] = fraction(Math.sqrt(n));
    K[found++] = fraction(Math.cbrt(n));
  }

  // Hasher takes bytes in as many pieces as they come.
  class Hasher {
    constructor() { this.state = START.slice(); this.rest = new Uint8Array(64); this.held = 0; this.length = 0; this.w = new Uint32Array(64); }
    add(bytes) {
      this.length += bytes.length;
      let at = 0;
      if (this.held > 0) {
        at = Math.min(64 - this.held, bytes.length);
        this.rest.set(bytes.subarray(0, at), this.held);
        this.held += at;
        if (this.held < 64) return this;
        this.block(this.rest, 0);
        this.held = 0;
      }
      for (; at + 64 <= bytes.length; at += 64) this.block(bytes, at);
      this.rest.set(bytes.subarray(at), 0);
      this.held = bytes.length - at;
      return this;
    }
    block(bytes, at) {
      const w = this.w, s = this.state;
      for (let i = 0; i < 16; i++, at += 4) w[i] = bytes[at] << 24 | bytes[at + 1] << 16 | bytes[at + 2] << 8 | bytes[at + 3];
      for (let i = 16; i < 64; i++) {
        const x = w[i - 15], y = w[i - 2];
        w[i] = w[i - 16] + w[i - 7] + ((x >>> 7 | x << 25) ^ (x >>> 18 | x << 14) ^ x >>> 3) + ((y >>> 17 | y << 15) ^ (y >>> 19 | y << 13) ^ y >>> 10);
      }
      let [a, b, c, d, e, f, g, h] = s;
      for (let i = 0; i < 64; i++) {
        const one = h + ((e >>> 6 | e << 26) ^ (e >>> 11 | e << 21) ^ (e >>> 25 | e << 7)) + (e & f ^ ~e & g) + K[i] + w[i] | 0;
        const two = ((a >>> 2 | a << 30) ^ (a >>> 13 | a << 19) ^ (a >>> 22 | a << 10)) + (a & b ^ a & c ^ b & c) | 0;
        h = g; g = f; f = e; e = d + one | 0; d = c; c = b; b = a; a = one + two | 0;
      }
      s[0] += a; s[1] += b; s[2] += c; s[3] += d; s[4] += e; s[5] += f; s[6] += g; s[7] += h;
    }
    sum() { // ends it
      const bits = this.length * 8, end = new Uint8Array(this.held < 56 ? 64 - this.held : 128 - this.held), view = new DataView(end.buffer);
      end[0] = 0x80;
      view.setUint32(end.length - 8, Math.floor(bits / 4294967296));
      view.setUint32(end.length - 4, bits % 4294967296);
      this.add(end);
      const out = new Uint8Array(32), words = new DataView(out.buffer);
      this.state.forEach((word, i) => words.setUint32(4 * i, word));
      return out;
    }
  }

  const sha256 = (...parts) => { const h = new Hasher(); for (const p of parts) h.add(p); return h.sum(); };
  const utf8 = (text) => new TextEncoder().encode(text);
  const leaf = (bytes) => sha256(Uint8Array.of(0), bytes);
  const node = (left, right) => sha256(Uint8Array.of(1), left, right);
  const same = (a, b) => a.length === b.length && a.every((byte, i) => byte === b[i]);
  const toBase64 = (bytes) => btoa(Array.from(bytes, (b) => String.fromCharCode(b)).join(""));
  const toHex = (bytes) => Array.from(bytes, (b) => b.toString(16).padStart(2, "0")).join("");
  // fromBase64 takes only the spelling that toBase64 gives, else null.
  const fromBase64 = (text) => {
    let bytes;
    try { bytes = Uint8Array.from(atob(text), (c) => c.charCodeAt(0)); } catch { return null; }
    for (let i = 0; i < text.length; i++) if (!/[A-Za-z0-9+/=]/.test(text[i])) return null;
    const tail = bytes.length % 3 === 0 ? "" : toBase64(bytes.subarray(bytes.length - bytes.length % 3));
    return text.length === Math.ceil(bytes.length / 3) * 4 && text.endsWith(tail) ? bytes : null;
  };
  const safe = (n) => Number.isSafeInteger(n) && n >= 0;

  // included: the leaf of that hash stands at place index among size (RFC 9162
  // section 2.1.3.2). proof and root are Uint8Arrays of 32 bytes.
  const included = (proof, size, root, index, hash) => {
    if (!safe(size) || !safe(index) || index >= size) return false;
    let fn = index, sn = size - 1, r = hash;
    for (const p of proof) {
      if (sn === 0) return false;
      if (fn % 2 === 1 || fn === sn) {
        r = node(p, r);
        while (fn % 2 === 0 && fn !== 0) { fn /= 2; sn = Math.floor(sn / 2); }
      } else r = node(r, p);
      fn = Math.floor(fn / 2); sn = Math.floor(sn / 2);
    }
    return sn === 0 && same(r, root);
  };

  // consistent: the first entries of the newer log are those of the older (RFC
  // 9162 section 2.1.4.2). Of equal sizes, and from nothing, no proof is needed.
  const consistent = (older, olderRoot, newer, newerRoot, proof) => {
    if (!safe(older) || !safe(newer) || older > newer) return false;
    if (older === newer) return proof.length === 0 && same(olderRoot, newerRoot);
    if (older === 0) return proof.length === 0 && same(olderRoot, sha256());
    let fn = older - 1, sn = newer - 1, path = proof;
    while (fn % 2 === 1) { fn = Math.floor(fn / 2); sn = Math.floor(sn / 2); }
    if (fn === 0) path = [olderRoot, ...proof];
    if (path.length === 0) return false;
    let fr = path[0], sr = path[0];
    for (const c of path.slice(1)) {
      if (sn === 0) return false;
      if (fn % 2 === 1 || fn === sn) {
        fr = node(c, fr); sr = node(c, sr);
        while (fn % 2 === 0 && fn !== 0) { fn /= 2; sn = Math.floor(sn / 2); }
      } else sr = node(sr, c);
      fn = Math.floor(fn / 2); sn = Math.floor(sn / 2);
    }
    return sn === 0 && same(fr, olderRoot) && same(sr, newerRoot);
  };

  return { Hasher, sha256, utf8, leaf, node, same, included, consistent, toBase64, fromBase64, toHex };
})();
