// SHA-512 (FIPS 180-4) for Ed25519, for a page without crypto.subtle. It hashes
// some hundred bytes at a time.
"use strict";
globalThis.sha512 = (() => {
  const mask = (1n << 64n) - 1n, K = [], START = [];
  // root is the whole part of the k-th root of n.
  const root = (n, k) => {
    let low = 0n, high = 1n << 72n;
    while (low < high) { const mid = (low + high + 1n) >> 1n; if (mid ** k <= n) low = mid; else high = mid - 1n; }
    return low;
  };
  for (let n = 2n; K.length < 80; n++) { // fractions of the roots of the first primes
    let prime = true;
    for (let d = 2n; d * d <= n; d++) if (n % d === 0n) prime = false;
    if (!prime) continue;
    if (START.length < 8) START.push(root(n << 128n, 2n) & mask);
    K.push(root(n << 192n, 3n) & mask);
  }
  const turn = (x, n) => (x >> n | x << (64n - n)) & mask;
  return (message) => {
    const size = Math.ceil((message.length + 17) / 128) * 128, padded = new Uint8Array(size), view = new DataView(padded.buffer);
    padded.set(message);
    padded[message.length] = 0x80;
    view.setBigUint64(size - 8, BigInt(message.length) * 8n);
    const s = [...START];
    for (let at = 0; at < size; at += 128) {
      const w = [];
      for (let i = 0; i < 16; i++) w.push(view.getBigUint64(at + 8 * i));
      for (let i = 16; i < 80; i++) {
        const x = w[i - 15], y = w[i - 2];
        w.push((w[i - 16] + w[i - 7] + (turn(x, 1n) ^ turn(x, 8n) ^ x >> 7n) + (turn(y, 19n) ^ turn(y, 61n) ^ y >> 6n)) & mask);
      }
      let [a, b, c, d, e, f, g, h] = s;
      for (let i = 0; i < 80; i++) {
        const one = h + (turn(e, 14n) ^ turn(e, 18n) ^ turn(e, 41n)) + (e & f ^ (e ^ mask) & g) + K[i] + w[i];
        const two = (turn(a, 28n) ^ turn(a, 34n) ^ turn(a, 39n)) + (a & b ^ a & c ^ b & c);
        h = g; g = f; f = e; e = (d + one) & mask; d = c; c = b; b = a; a = (one + two) & mask;
      }
      [a, b, c, d, e, f, g, h].forEach((x, i) => { s[i] = (s[i] + x) & mask; });
    }
    const out = new Uint8Array(64), words = new DataView(out.buffer);
    s.forEach((word, i) => words.setBigUint64(8 * i, word));
    return out;
  };
})();
