// Where the phone is, if it may say so, and a photo: both optional, neither ever waited for.

import { shrink } from "./photos.js";
import { button, freshId, h, notice, say, tick } from "./ui.js";

const WANTED_KEY = "thawline.position";
// A fix older than this is from another tree.
const FRESH_MS = 120_000;
const WHY = {
  1:
    "This phone does not let the page know where it is. Allow it in the phone's settings, or " +
    "use the number.",
  2: "No position: the phone finds none here.",
  3: "No position yet: the phone is still looking.",
};

let fix = null;
let watch = null;
const listeners = new Set();

function tell(why) {
  for (const listener of listeners) listener(fix, why);
}

function begin() {
  if (watch !== null) return;
  watch = navigator.geolocation.watchPosition(
    ({ coords }) => {
      fix = {
        lat: coords.latitude,
        lon: coords.longitude,
        accuracy: coords.accuracy,
        at: Date.now(),
      };
      tell("");
    },
    (error) => tell(WHY[error.code] ?? WHY[2]),
    { enableHighAccuracy: true, maximumAge: 30_000, timeout: 30_000 },
  );
}

/** Nothing asks for a position once the page that wanted it is left: it costs battery. */
export function stopPosition() {
  listeners.clear();
  if (watch !== null) navigator.geolocation.clearWatch(watch);
  watch = null;
}

/** listener(fix or null, why not) now and whenever the phone learns more. */
export function onPosition(listener) {
  if (!("geolocation" in navigator) || !window.isSecureContext) {
    listener(null, "No position here: the phone gives it only to a page opened over https.");
    return;
  }
  listeners.add(listener);
  if (fix && Date.now() - fix.at < FRESH_MS) listener(fix, "");
  begin();
}

const wanted = () => {
  try {
    return localStorage.getItem(WANTED_KEY) === "yes";
  } catch {
    return false;
  }
};
const want = (yes) => {
  try {
    localStorage.setItem(WANTED_KEY, yes ? "yes" : "no");
  } catch {
    // Not kept: asked again next time.
  }
};

/** A tick that adds the position to the record; once wanted, it stays wanted. */
export function positionPart() {
  const words = h("p", { class: "soft" });
  const show = (found, why) => {
    words.textContent = found
      ? `Position found, good to ${Math.round(found.accuracy)} m; it goes with the record.`
      : why || "Looking for your position. Save does not wait for it.";
  };
  const box = tick("Add my position", {
    checked: wanted(),
    onpick: (yes) => {
      want(yes);
      words.textContent = "";
      if (yes) ask();
      else listeners.delete(show);
    },
  });
  const ask = () => {
    show(null, "");
    onPosition(show);
  };
  if (wanted()) ask();
  return {
    node: h("div", {}, box.node, words),
    /** [latitude, longitude, accuracy in metres], or undefined. */
    value: () => {
      if (!box.value() || !fix || Date.now() - fix.at > FRESH_MS) return undefined;
      return [Number(fix.lat.toFixed(6)), Number(fix.lon.toFixed(6)), Math.round(fix.accuracy)];
    },
  };
}

/** One photo, made small when it is taken, so that saving is quick. */
export function photoPart() {
  let photo = null;
  let working = null;
  const id = freshId("photo");
  const words = h("p", { class: "soft" });
  const input = h("input", {
    type: "file",
    id,
    accept: "image/*",
    capture: "environment",
    class: "unseen",
  });
  const drop = button("Leave the photo out", () => clear(), "quiet", { hidden: true });
  async function take(file) {
    words.replaceChildren("Making the photo smaller…");
    try {
      photo = await shrink(file);
      words.replaceChildren(
        `Photo ready, ${Math.max(1, Math.round(photo.size / 1000))} KB. It is sent last.`,
      );
    } catch {
      photo = null;
      words.replaceChildren(
        notice("warning", "This picture could not be read. The record can be saved without it."),
      );
    }
    drop.hidden = photo === null;
    say(words.textContent);
  }
  function clear() {
    photo = null;
    input.value = "";
    words.replaceChildren();
    drop.hidden = true;
    input.focus();
  }
  input.addEventListener("change", () => {
    if (input.files[0]) working = take(input.files[0]);
  });
  const label = h("label", { class: "button photo", htmlFor: id }, "Take or choose a photo");
  return {
    node: h("div", { class: "photo-part" }, input, label, words, drop),
    /** The photos to save; one that is still being made smaller is waited for. */
    photos: async () => {
      await working;
      return photo ? [photo] : [];
    },
  };
}
