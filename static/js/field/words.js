// How the phone says times, ages, quantities and records: in the operation's zone and units,
// whatever zone and language the phone is set to.

const MINUTE = 60_000;
const HOUR = 60 * MINUTE;
export const DAY = 24 * HOUR;

const formats = new Map();
// Building a formatter is slow, and a list of two hundred lines asks for one a row.
function format(zone, options) {
  const key = zone + JSON.stringify(options);
  if (!formats.has(key)) {
    formats.set(key, new Intl.DateTimeFormat("en-US", { timeZone: zone, ...options }));
  }
  return formats.get(key);
}

const CLOCK = { hour: "2-digit", minute: "2-digit", hourCycle: "h23" };
const DATE = { weekday: "short", day: "numeric", month: "short" };
const PARTS = { year: "numeric", month: "2-digit", day: "2-digit" };

/** The operation's local day as a count of days, so that a difference is a number of nights. */
export function dayNumber(ms, zone) {
  const parts = Object.fromEntries(
    format(zone, PARTS)
      .formatToParts(ms)
      .map(({ type, value }) => [type, Number(value)]),
  );
  return Date.UTC(parts.year, parts.month - 1, parts.day) / DAY;
}

export function clockTime(ms, zone) {
  return format(zone, CLOCK).format(ms);
}

/** "10:42" today, "Sat, Mar 14, 10:42" on any other day. */
export function moment(ms, zone, now) {
  const time = clockTime(ms, zone);
  if (dayNumber(ms, zone) === dayNumber(now, zone)) return `${time} today`;
  return `${format(zone, DATE).format(ms)}, ${time}`;
}

const plural = (count, word) => `${count} ${word}${count === 1 ? "" : "s"}`;
export { plural };

/** An age in words; null where the phone's clock was set back and no age can be told. */
export function age(from, now) {
  const gone = now - from;
  // Two minutes of grace: a clock put right by a little is no clock set back.
  if (gone < -2 * MINUTE) return null;
  if (gone < MINUTE) return "just now";
  if (gone < HOUR) return `${Math.floor(gone / MINUTE)} min`;
  if (gone < 2 * DAY) return `${Math.floor(gone / HOUR)} h`;
  return plural(Math.floor(gone / DAY), "day");
}

export function daysAgo(days) {
  if (days === null) return "never walked";
  if (days === 0) return "today";
  return days === 1 ? "yesterday" : `${days} days ago`;
}

export const shown = (si, unit) => (si * unit.per_si).toFixed(unit.places ?? 1);
export const withUnit = (si, unit) => `${shown(si, unit)} ${unit.unit}`;

export const labelOf = (pairs, code) => pairs.find(([value]) => value === code)?.[1] ?? code;

export function lineName(data, id) {
  const row = data.lines.find(([line]) => line === id);
  return row ? `${row[2]}, ${data.woodlots[row[1]][1]}` : `line no. ${id}`;
}

const joined = (...parts) => parts.filter(Boolean).join(", ");
const drops = (record) => record.drops !== undefined && `${plural(record.drops, "drop")} up`;
const pulled = (record) => `${plural(record.taps, "tap")} pulled`;
const finished = (record) => record.finishes && "line finished";

const SAY = {
  check: (record, data) =>
    `${lineName(data, record.line)}: ${joined(
      labelOf(data.states, record.state).toLowerCase(),
      record.cause && labelOf(data.causes, record.cause).toLowerCase(),
      drops(record),
    )}`,
  after: (record, data) => `Reading after: ${withUnit(record.after_kpa, data.units.vacuum)}`,
  tally: (record, data) =>
    `${lineName(data, record.line)}: ${joined(
      `${plural(record.taps, "tap")} set`,
      record.drops && `${plural(record.drops, "drop")} renewed`,
      finished(record),
    )}`,
  pull: (record, data) =>
    `${lineName(data, record.line)}: ${joined(pulled(record), finished(record))}`,
  dip: (record, data) =>
    `${labelOf(data.tanks, record.tank)}: dip ${withUnit(record.depth_mm, data.units.depth)}`,
  gauge: (record, data) =>
    `${labelOf(data.pump_houses, record.pump_house)}: ` +
    `${withUnit(record.vacuum_kpa, data.units.vacuum)}`,
  obstruction: (record, data) =>
    `${lineName(data, record.line)}: obstruction, ${joined(
      labelOf(data.works, record.work).toLowerCase(),
      drops(record),
    )}`,
  clear: () => "Obstruction cleared",
  note: (record) => `Note: ${record.text}`,
  void: () => "Taken back",
};

/** One record in words; a record about another one says which, where the phone still has it. */
export function describe(record, data, entries = []) {
  const words = SAY[record.kind](record, data);
  const other = entries.find((entry) => entry.record.uuid === record.of);
  return other ? `${words} (${describe(other.record, data)})` : words;
}
