// Builders for the phone's pages: every control is a native one, so that keys, gloves and
// screen readers get what they expect, and every target is sized by phone.css.

const PROPERTIES = new Set(["checked", "disabled", "hidden", "value", "open", "htmlFor"]);

/** Build an element: attributes by name, listeners as onclick and the like, children after. */
export function h(tag, attributes = {}, ...children) {
  const node = document.createElement(tag);
  for (const [name, value] of Object.entries(attributes)) {
    if (value === null || value === undefined || value === false) continue;
    if (name.startsWith("on")) node.addEventListener(name.slice(2), value);
    else if (PROPERTIES.has(name)) node[name] = value;
    else node.setAttribute(name, value === true ? "" : value);
  }
  node.append(...children.flat(3).filter((child) => child || child === 0));
  return node;
}

/** Say something to whoever cannot see it happen: one live region for the whole shell. */
export function say(text) {
  const region = document.getElementById("said");
  // Emptied first: the same sentence twice would not be spoken again.
  region.textContent = "";
  setTimeout(() => {
    region.textContent = text;
  }, 50);
}

export function button(text, onclick, kind = "", attributes = {}) {
  return h("button", { type: "button", class: `button ${kind}`, onclick, ...attributes }, text);
}

export function notice(kind, ...children) {
  return h("div", { class: `notice ${kind}` }, ...children);
}

/** What stands behind one touch, out of the way of the three that matter. */
export function fold(title, ...children) {
  return h("details", { class: "fold" }, h("summary", {}, title), h("div", {}, ...children));
}

let serial = 0;
export const freshId = (stem) => `${stem}-${(serial += 1)}`;

/** One label with a radio in it; the whole label is the target. */
export function radio(name, value, content, { checked = false, kind = "", onpick } = {}) {
  return h(
    "label",
    { class: `choice ${kind}` },
    h("input", { type: "radio", name, value: String(value), checked, onchange: onpick }),
    h("span", {}, content),
  );
}

/** A question with one answer; nothing is chosen beforehand unless it is asked for. */
export function choices(legend, name, options, { chosen = null, kind = "", onpick } = {}) {
  const row = h(
    "div",
    { class: `choices ${kind}` },
    options.map(([value, text]) =>
      radio(name, value, text, {
        checked: String(value) === String(chosen),
        kind: `${name}-${value}`,
        onpick: () => onpick?.(value),
      }),
    ),
  );
  const node = h("fieldset", { class: "step" }, h("legend", {}, legend), row);
  const picked = () => node.querySelector("input:checked");
  return {
    node,
    /** The value as it was given, so that an identifier stays a number. */
    value: () => options.find(([value]) => String(value) === picked()?.value)?.[0] ?? null,
    clear: () => {
      if (picked()) picked().checked = false;
    },
  };
}

export function tick(text, { checked = false, onpick } = {}) {
  const box = h("input", { type: "checkbox", checked, onchange: () => onpick?.(box.checked) });
  return {
    node: h("label", { class: "choice" }, box, h("span", {}, text)),
    value: () => box.checked,
  };
}

const round = (value, places) => Number(value.toFixed(places));

/**
 * A number without a keyboard: null until touched, since "not read" is not nought.
 * The first touch brings `start`; later ones step from there, within `low` and `high`.
 */
export function stepper(
  label,
  { unit = "", step, big, start, places = 0, low = 0, high, value = null },
) {
  let number = value;
  const shown = h("output", {});
  const listeners = [];
  const words = (size) => `${size}${unit ? ` ${unit}` : ""}`;
  const show = () => {
    shown.textContent = number === null ? "not said" : words(number.toFixed(places));
    clear.hidden = number === null;
    for (const listener of listeners) listener(number);
  };
  const move = (by) => {
    const next = number === null ? start() : number + by;
    number = round(Math.min(high, Math.max(low, next)), places);
    show();
    say(`${label}: ${shown.textContent}`);
  };
  const key = (by) =>
    button(`${by < 0 ? "−" : "+"}${Math.abs(by)}`, () => move(by), "step-key", {
      "aria-label": `${label}: ${by < 0 ? "less" : "more"} by ${words(Math.abs(by))}`,
    });
  const clear = button(
    "Clear",
    () => {
      number = null;
      show();
      // The button goes with the number, and the focus must not go with the button.
      node.querySelector("button").focus();
    },
    "quiet",
    { "aria-label": `${label}: clear` },
  );
  const node = h(
    "div",
    { class: "stepper", role: "group", "aria-label": label },
    h("p", { class: "stepper-head" }, h("strong", {}, label), shown, clear),
    h("div", { class: "stepper-keys" }, key(-big), key(-step), key(step), key(big)),
  );
  show();
  return { node, value: () => number, onchange: (listener) => listeners.push(listener) };
}

/**
 * Our own keys for digits: the phone's keyboard would cover the states and Save. `beside` stands
 * between what was typed and the key that rubs out; `mark` is a key more, where one is needed.
 */
export function pad(label, { mark, markName, beside, unit = "", onchange, longest = 8 }) {
  let typed = "";
  const heading = h("output", { class: "typed" });
  const show = () => {
    heading.textContent = typed ? `${typed} ${unit}` : unit || "No.";
  };
  const set = (text) => {
    typed = text.slice(0, longest);
    show();
    onchange(typed);
  };
  const press = (key) => set(key === "rub" ? typed.slice(0, -1) : typed + key);
  const key = (sign, name, does = sign) =>
    button(sign, () => press(does), "pad-key", { "aria-label": name ?? sign });
  const node = h(
    "div",
    { class: "pad", role: "group", "aria-label": label },
    h(
      "div",
      { class: "pad-head" },
      heading,
      beside,
      mark && key(mark, markName),
      key("⌫", "Rub out the last", "rub"),
    ),
    [..."1234567890"].map((digit) => key(digit)),
  );
  // Whoever has a keyboard types straight on, wherever in the pad the focus is.
  node.addEventListener("keydown", (event) => {
    const known = /^[0-9]$/.test(event.key) || event.key === mark;
    if (known) press(event.key);
    else if (event.key === "Backspace") press("rub");
    else return;
    event.preventDefault();
  });
  show();
  return { node, value: () => typed, clear: () => set("") };
}
