// Photos: made small before they are kept, and named by their content.

import { trouble } from "./store.js";

const LONGEST_PX = 1600;
const QUALITY = 0.75;

function canvas(width, height) {
  if (self.OffscreenCanvas) return new OffscreenCanvas(width, height);
  return Object.assign(document.createElement("canvas"), { width, height });
}

function jpeg(from) {
  const wanted = { type: "image/jpeg", quality: QUALITY };
  if (from.convertToBlob) return from.convertToBlob(wanted);
  return new Promise((resolve) => from.toBlob(resolve, wanted.type, wanted.quality));
}

// At most 1600 px a side, the right way up. Drawing leaves behind what the camera wrote about
// place and time: the record carries its own.
export async function shrink(file) {
  let picture;
  try {
    picture = await createImageBitmap(file, { imageOrientation: "from-image" });
  } catch {
    throw trouble("not_a_picture", "This file is no picture that the phone can read.");
  }
  const scale = Math.min(1, LONGEST_PX / Math.max(picture.width, picture.height));
  const width = Math.max(1, Math.round(picture.width * scale));
  const height = Math.max(1, Math.round(picture.height * scale));
  const small = canvas(width, height);
  small.getContext("2d").drawImage(picture, 0, 0, width, height);
  picture.close();
  return jpeg(small);
}

const hex = (bytes) => [...bytes].map((byte) => byte.toString(16).padStart(2, "0")).join("");

async function digest(bytes) {
  // Fetched where it is needed: on plain http, and so with a signal.
  if (!crypto.subtle) return (await import("./sha256.js")).sha256(bytes);
  return hex(new Uint8Array(await crypto.subtle.digest("SHA-256", bytes)));
}

// A photo's bytes (a Blob or an ArrayBuffer) with their size and hash. Kept as plain bytes, which
// old browsers store more surely than Blobs.
export async function pack(photo) {
  const bytes = photo instanceof Blob ? await photo.arrayBuffer() : photo;
  return { bytes, size: bytes.byteLength, sha256: await digest(bytes) };
}
