// SHA-256 (FIPS 180-4). The browser's own is missing on plain http, where photos must go up too.

const PRIMES = (() => {
  const found = [];
  for (let n = 2; found.length < 64; n += 1) {
    if (found.every((prime) => n % prime)) found.push(n);
  }
  return found;
})();
// The first 32 bits of the fractional part of a root; doubles hold more than 32 of them.
const fraction = (root) => ((root - Math.floor(root)) * 2 ** 32) | 0;
const ROUND = PRIMES.map((prime) => fraction(Math.cbrt(prime)));
const START = PRIMES.slice(0, 8).map((prime) => fraction(Math.sqrt(prime)));
const turn = (word, by) => (word >>> by) | (word << (32 - by));

// Section 5.1.1: a one bit, zeros, and the length in bits as 64 bits at the end of a block.
function padded(bytes) {
  const blocks = new DataView(new ArrayBuffer(Math.ceil((bytes.byteLength + 9) / 64) * 64));
  new Uint8Array(blocks.buffer).set(new Uint8Array(bytes));
  blocks.setUint8(bytes.byteLength, 0x80);
  blocks.setBigUint64(blocks.byteLength - 8, BigInt(bytes.byteLength) * 8n);
  return blocks;
}

// Section 6.2.2, step 1.
function schedule(blocks, at, words) {
  for (let t = 0; t < 16; t += 1) words[t] = blocks.getInt32(at + 4 * t);
  for (let t = 16; t < 64; t += 1) {
    const [early, late] = [words[t - 15], words[t - 2]];
    const small0 = turn(early, 7) ^ turn(early, 18) ^ (early >>> 3);
    const small1 = turn(late, 17) ^ turn(late, 19) ^ (late >>> 10);
    words[t] = (small1 + words[t - 7] + small0 + words[t - 16]) | 0;
  }
}

// Steps 2 to 4.
function mixed(state, words) {
  let [a, b, c, d, e, f, g, h] = state;
  for (let t = 0; t < 64; t += 1) {
    const big1 = turn(e, 6) ^ turn(e, 11) ^ turn(e, 25);
    const first = (h + big1 + ((e & f) ^ (~e & g)) + ROUND[t] + words[t]) | 0;
    const big0 = turn(a, 2) ^ turn(a, 13) ^ turn(a, 22);
    const second = (big0 + ((a & b) ^ (a & c) ^ (b & c))) | 0;
    [h, g, f, e, d, c, b, a] = [g, f, e, (d + first) | 0, c, b, a, (first + second) | 0];
  }
  return [a, b, c, d, e, f, g, h].map((word, i) => (word + state[i]) | 0);
}

export function sha256(bytes) {
  const blocks = padded(bytes);
  const words = new Int32Array(64);
  let state = START;
  for (let at = 0; at < blocks.byteLength; at += 64) {
    schedule(blocks, at, words);
    state = mixed(state, words);
  }
  return state.map((word) => (word >>> 0).toString(16).padStart(8, "0")).join("");
}
