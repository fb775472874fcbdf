// SHA-256 as lower-case hexadecimal (FIPS 180-4). The browser's own where the context is secure; else the plain
// computation, so that files and buttons still work on a page that did not come over HTTPS.

const roots = [];
const initial = [];
for (let number = 2; roots.length < 64; number += 1) {
  let prime = true;
  for (let other = 2; other * other <= number; other += 1) if (number % other === 0) prime = false;
  if (!prime) continue;
  const fraction = (value) => ((value - Math.floor(value)) * 2 ** 32) | 0;
  if (initial.length < 8) initial.push(fraction(Math.sqrt(number)));
  roots.push(fraction(Math.cbrt(number)));
}
const turn = (word, by) => (word >>> by) | (word << (32 - by));

export async function sha256(bytes) {
  if (globalThis.crypto?.subtle) return hex(new Uint8Array(await crypto.subtle.digest("SHA-256", bytes)));
  return plainSha256(bytes);
}

export function plainSha256(bytes) {
  const size = bytes.length;
  const padded = new Uint8Array((((size + 8) >> 6) + 1) << 6);
  padded.set(bytes);
  padded[size] = 0x80;
  const view = new DataView(padded.buffer);
  view.setUint32(padded.length - 8, Math.floor(size / 2 ** 29));
  view.setUint32(padded.length - 4, (size << 3) >>> 0);
  const state = Int32Array.from(initial);
  for (let block = 0; block < padded.length; block += 64) compress(state, view, block);
  const out = new Uint8Array(32);
  state.forEach((word, place) => new DataView(out.buffer).setInt32(place * 4, word));
  return hex(out);
}

function compress(state, view, block) {
  const words = new Int32Array(64);
  for (let place = 0; place < 16; place += 1) words[place] = view.getInt32(block + place * 4);
  for (let place = 16; place < 64; place += 1) {
    const early = words[place - 15], late = words[place - 2];
    const small = turn(early, 7) ^ turn(early, 18) ^ (early >>> 3);
    const large = turn(late, 17) ^ turn(late, 19) ^ (late >>> 10);
    words[place] = (words[place - 16] + small + words[place - 7] + large) | 0;
  }
  let [a, b, c, d, e, f, g, h] = state;
  for (let round = 0; round < 64; round += 1) {
    const one = (h + (turn(e, 6) ^ turn(e, 11) ^ turn(e, 25)) + ((e & f) ^ (~e & g)) + roots[round] + words[round]) | 0;
    const two = ((turn(a, 2) ^ turn(a, 13) ^ turn(a, 22)) + ((a & b) ^ (a & c) ^ (b & c))) | 0;
    [h, g, f, e, d, c, b, a] = [g, f, e, (d + one) | 0, c, b, a, (one + two) | 0];
  }
  [a, b, c, d, e, f, g, h].forEach((word, place) => { state[place] = (state[place] + word) | 0; });
}

const hex = (bytes) => Array.from(bytes, (byte) => byte.toString(16).padStart(2, "0")).join("");
