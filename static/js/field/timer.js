// The half-minute valve test. Time is told by the clock and never by counting ticks: a page that
// was stopped with the screen off knows when it comes back how long ago the half minute ended.

import { button, fold, h, notice, say } from "./ui.js";
import { state } from "./state.js";

const SECONDS = 30;
const BUZZ = [400, 150, 400, 150, 400];
// A rise of half an inch of mercury on the gauge, in kilopascals.
const RISE_KPA = 1.7;
// Ended longer ago than this, nobody was shown the end as it came.
const LATE_S = 2;

// Outside any page, so that a look at another page does not stop the test.
let started = null;
let finished = false;
let lock = null;
let sound = null;

/**
 * Seconds gone since a start. The clock may be set back while it runs and the page's own counter
 * may sleep with the screen: the longer of the two gaps is the one that neither fault made short.
 */
export function secondsGone(from, to) {
  return Math.max(to.wall - from.wall, to.mono - from.mono) / 1000;
}

const clocks = () => ({ wall: Date.now(), mono: performance.now() });

async function keepAwake() {
  try {
    lock = await navigator.wakeLock?.request("screen");
  } catch {
    // Refused with a low battery, or absent: the words on the page promise nothing.
    lock = null;
  }
}

function letSleep() {
  lock?.release();
  lock = null;
}

function beep() {
  if (!sound) return;
  const tone = sound.createOscillator();
  tone.frequency.value = 880;
  tone.connect(sound.destination);
  tone.start();
  tone.stop(sound.currentTime + 0.8);
}

function begin() {
  started = clocks();
  finished = false;
  keepAwake();
  // Made by the touch itself: a browser gives no sound to a page nobody touched.
  const Sound = window.AudioContext ?? window.webkitAudioContext;
  sound ??= Sound ? new Sound() : null;
  sound?.resume();
}

function finish() {
  finished = true;
  letSleep();
  if (document.visibilityState === "visible") {
    navigator.vibrate?.(BUZZ);
    beep();
  }
}

// The lock goes with the page's being in view and must be asked for again.
document.addEventListener("visibilitychange", () => {
  if (started && !finished && document.visibilityState === "visible") keepAwake();
});

/** The timer with its words, folded away until it is wanted. */
export function valveTest() {
  const { unit, per_si: perSi, places } = state.data.units.vacuum;
  const rise = `${(RISE_KPA * perSi).toFixed(places)} ${unit}`;
  const shown = h("p", { class: "timer", role: "timer" }, `${SECONDS} s`);
  const outcome = h("div", {});
  const start = button(
    "Start the half minute",
    () => (started && !finished ? stop() : run()),
    "wide primary",
  );

  function stop() {
    started = null;
    letSleep();
    start.textContent = "Start the half minute";
    shown.textContent = `${SECONDS} s`;
  }

  function run() {
    begin();
    outcome.replaceChildren();
    say("Half a minute is running.");
    draw();
  }

  function draw() {
    if (!started || (!shown.isConnected && shown.dataset.seen)) return;
    shown.dataset.seen = "yes";
    const gone = secondsGone(started, clocks());
    if (gone < SECONDS) {
      start.textContent = "Stop";
      shown.textContent = `${Math.ceil(SECONDS - gone)} s`;
      setTimeout(draw, 200);
      return;
    }
    if (!finished) finish();
    end(Math.floor(gone - SECONDS));
  }

  function end(late) {
    const ago = late > LATE_S ? ` It ended ${late} s ago, while this page was not in view.` : "";
    start.textContent = "Start again";
    shown.textContent = "Done";
    outcome.replaceChildren(
      notice("success", `The half minute is over: read the gauge.${ago} Open the valve again.`),
    );
    say("The half minute is over: read the gauge.");
    started = null;
  }

  document.addEventListener("visibilitychange", function look() {
    if (!shown.isConnected) return document.removeEventListener("visibilitychange", look);
    return draw();
  });
  // A test begun before a look at another page goes on here.
  if (started) queueMicrotask(draw);

  const node = fold(
    "Valve test: half a minute",
    h(
      "p",
      {},
      "Read the gauge, shut this line's valve alone, start, and read again at the end. Up by " +
        `${rise} or more: the line leaks.`,
    ),
    h(
      "p",
      {},
      "No rise says tight only while sap is moving; a still or frozen line gets no verdict. " +
        "(Common practice, no source.)",
    ),
    shown,
    start,
    outcome,
    h(
      "p",
      { class: "soft" },
      "It buzzes and sounds while this page is in view. With the screen off no sound and no " +
        "buzz will come: the page asks the phone to stay awake, and the phone may refuse.",
    ),
  );
  if (started) node.open = true;
  return node;
}
