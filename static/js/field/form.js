// What every form of the phone shares: the save bar, what is said when it cannot be saved, and the
// card after saving, with Undo on it. "Saved" is said only once the phone's store has it for good.

import { now } from "./clock.js";
import { save, undo } from "./outbox.js";
import { listen, noteSaved, state } from "./state.js";
import { button, h, notice, say } from "./ui.js";
import { clockTime, describe } from "./words.js";

const signInLink = () =>
  h("a", { class: "button primary", href: document.body.dataset.signIn }, "Sign in");

/** Where a saved record is now, kept true for as long as the card is on the page. */
function whereabouts(uuid) {
  const node = h("p", { class: "soft" }, "On this phone, waiting to be sent.");
  const stop = listen(() => {
    if (!node.isConnected) return stop();
    const entry = state.entries.find((it) => it.uuid === uuid);
    if (entry?.status === "sent") node.textContent = "Sent: the server has it.";
    if (entry?.status === "refused") {
      node.replaceChildren(
        notice(
          "error",
          `The server did not take it: ${entry.reason} `,
          h("a", { href: "/field/outbox/" }, "Put it right"),
        ),
      );
    }
  });
  return node;
}

/** The card after saving: what was saved, one touch to take it back, and what comes next. */
export function savedCard({ uuid, record, again, extra = [] }) {
  const { zone } = state.data;
  const words = describe(record, state.data, state.entries);
  const head = h("h2", { tabindex: "-1" }, words);
  const rest = h("div", {}, whereabouts(uuid), ...extra);
  const undoing = button("Undo: take this back", takeBack, "wide undo");
  async function takeBack() {
    if (undoing.disabled) return;
    // At once and not after the store has answered: a second touch must not be a second record.
    undoing.disabled = true;
    try {
      await undo(uuid);
    } catch (error) {
      undoing.disabled = false;
      card.append(notice("error", `Not taken back: ${error.message}`));
      return;
    }
    head.textContent = `Taken back: ${words}`;
    card.className = "notice warning saved";
    undoing.remove();
    rest.replaceChildren(
      h("p", {}, "It stays in the record and counts for nothing."),
      again ? button("Log it again", again, "wide") : "",
    );
    say(head.textContent);
    head.focus();
  }
  const card = h(
    "section",
    { class: "notice success saved", "aria-label": "Just saved" },
    h("p", { class: "saved-at" }, `Saved ${clockTime(now().at, zone)}`),
    head,
    undoing,
    rest,
  );
  return card;
}

/** What to say when nothing was saved; `again` saves the same without its photos. */
function notSaved(error, again) {
  if (error.code === "no_person") {
    return notice(
      "error",
      h(
        "p",
        {},
        "Not saved: this phone does not know who you are yet. Sign in once where there is signal.",
      ),
      signInLink(),
    );
  }
  if (error.code === "storage_full" && again) {
    return notice(
      "error",
      h("p", {}, "Not saved: the phone has no room for the photo."),
      button("Save without the photo", again, "primary wide"),
    );
  }
  if (error.code === "storage_full") {
    return notice(
      "error",
      "Not saved: the phone is full. Write it on paper, and free some room by deleting " +
        "pictures or apps, not this one. What waits here is safe.",
    );
  }
  return notice("error", `Not saved: ${error.message}. What you entered is still here.`);
}

/**
 * A form. `read()` gives {record} or {problem, at}; `photos()` the blobs to go with it;
 * `saved(uuid, record, card)` puts the page in order for the next one.
 */
export function recordForm({
  parts,
  saveText,
  read,
  photos = async () => [],
  saved,
  caution = null,
}) {
  const trouble = h("div", { role: "alert" });
  const saveButton = h("button", { type: "submit", class: "button primary" });
  const label = () => {
    saveButton.textContent = saveText();
  };
  let saving = false;

  async function keep(withPhotos) {
    const { record, problem, at } = read();
    trouble.replaceChildren();
    if (problem) {
      trouble.replaceChildren(notice("error", problem));
      at?.querySelector("input, button, textarea")?.focus();
      return;
    }
    if (saving) return;
    saving = true;
    try {
      const uuid = await save(record, { photos: withPhotos ? await photos() : [] });
      const kept = { ...record, uuid, at: now().at };
      noteSaved(kept);
      saved(uuid, kept);
    } catch (error) {
      const again = withPhotos && (await photos()).length ? () => keep(false) : null;
      trouble.replaceChildren(notSaved(error, again));
    } finally {
      saving = false;
    }
  }

  const node = h(
    "form",
    {
      class: "record",
      novalidate: true,
      onsubmit: (event) => {
        event.preventDefault();
        keep(true);
      },
      onchange: label,
    },
    ...parts,
    caution,
    h("div", { class: "savebar" }, trouble, saveButton),
  );
  label();
  return { node, label };
}

/** Put a card above a form made anew, and go to it. */
export function showSaved(place, card) {
  place.replaceChildren(card);
  card.querySelector("h2").focus();
  window.scrollTo(0, 0);
  say(`Saved on this phone: ${card.querySelector("h2").textContent}`);
}

/** Only what was said: a part left out is not sent at all. */
export function said(fields) {
  return Object.fromEntries(
    Object.entries(fields).filter(
      ([, value]) => value !== null && value !== undefined && value !== "",
    ),
  );
}
