// The lines as the phone knows them: the server's list, and on top of it what was logged here.

import { dayNumber } from "./words.js";

const FROZEN = "frozen";
const EARTH_M = 6_371_000;

// What the server refused, or never got, is no news of the line.
const told = (entry) => entry.status === "waiting" || entry.status === "sent";

/** What was logged here and is not in the list yet: of each line the newest check that stands. */
function newestHere(entries, fetchedAt) {
  const byUuid = new Map(entries.map((entry) => [entry.uuid, entry]));
  const unseen = (entry) => entry && (entry.status === "waiting" || entry.sentAt > fetchedAt);
  const newest = new Map();
  for (const entry of entries) {
    const { line, kind } = entry.record;
    if (kind !== "check" || !told(entry)) continue;
    if (entry.voidedBy) {
      // The check before it may still stand; without one, nothing is known here.
      if (unseen(byUuid.get(entry.voidedBy)) && !newest.has(line)) newest.set(line, entry);
    } else if (unseen(entry)) newest.set(line, entry);
  }
  return newest;
}

/** One line as it stands now; days are nights passed, in the operation's zone. */
function standing([id, lot, label, taps, state, days, lat, lon], { data, here, today, gap }) {
  const line = {
    id,
    label,
    lot,
    woodlot: data.woodlots[lot][1],
    taps: taps ?? null,
    state: state || "",
    // The server counted when it made the list; nights have passed since.
    days: days === null || days === undefined ? null : days + gap,
    lat: lat ?? null,
    lon: lon ?? null,
    takenBack: false,
  };
  const entry = here.get(id);
  if (entry?.voidedBy) {
    // The server may still count the check: what came before it is not known on this phone.
    Object.assign(line, { state: "", days: null, takenBack: true });
  } else if (entry) {
    const { at, state: seen } = entry.record;
    line.state = seen;
    // Frozen is no verdict: the line was seen, and nobody walked it.
    if (seen !== FROZEN) line.days = Math.max(0, today - dayNumber(at, data.zone));
  }
  line.done = line.days === 0 && line.state !== FROZEN;
  return line;
}

/** Every line in walking order, with what this phone knows of it. */
export function linesNow({ data, fetchedAt, entries, now }) {
  const today = dayNumber(now, data.zone);
  const gap = Math.max(0, today - dayNumber(fetchedAt, data.zone));
  const here = newestHere(entries, fetchedAt);
  return data.lines.map((row) => standing(row, { data, here, today, gap }));
}

const digits = (text) => (text.match(/\d+/g) ?? []).map(Number).join("-");

/** Lines a typed number may mean: "12" is L12 before L120; a dash parts the numbers of "3-7". */
export function linesByNumber(lines, typed) {
  const wanted = digits(typed);
  if (!wanted) return { exact: [], others: [] };
  const exact = lines.filter((line) => digits(line.label) === wanted);
  const begins = lines.filter(
    (line) => digits(line.label) !== wanted && digits(line.label).startsWith(wanted),
  );
  return { exact, others: begins };
}

const radians = (degrees) => (degrees * Math.PI) / 180;

/** Metres along the ground between two positions (haversine on a mean sphere). */
export function metres(a, b) {
  const across =
    Math.cos(radians(a.lat)) * Math.cos(radians(b.lat)) * Math.sin(radians(b.lon - a.lon) / 2) ** 2;
  return 2 * EARTH_M * Math.asin(Math.sqrt(Math.sin(radians(b.lat - a.lat) / 2) ** 2 + across));
}

/** Lines with a position on record, the nearest first. */
export function linesByDistance(lines, fix) {
  return lines
    .filter((line) => line.lat !== null && line.lon !== null)
    .map((line) => ({ line, metres: metres(fix, line) }))
    .sort((a, b) => a.metres - b.metres);
}

/** The line a printed tag names, or undefined. */
export function lineOfTag(lines, data, slug, label) {
  const lot = data.woodlots.findIndex(([, , own]) => own === slug);
  return lines.find((line) => line.lot === lot && line.label.toLowerCase() === label.toLowerCase());
}
