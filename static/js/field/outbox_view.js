// What waits and what was sent, record by record and honestly: nothing is called sent before the
// server has named it, and what it refused stays here with the reason and a way out.

import { now } from "./clock.js";
import { exportFile, handOver, undo } from "./outbox.js";
import { mending } from "./mend.js";
import { token } from "./net.js";
import { clockBehindMs, lossRead, sendNow, state } from "./state.js";
import { button, fold, h, notice, say } from "./ui.js";
import { age, describe, moment, plural } from "./words.js";

const SENT_SHOWN = 60;
const CLOCK_OFF_MS = 5 * 60_000;

const LINK_WORDS = {
  ok: "Everything that could go has gone.",
  nothing: "Nothing of yours waits.",
  no_answer: "No answer from the server. Everything stays here and is tried again by itself.",
  busy: "Another page of this app is sending just now.",
};

const me = () => state.ready?.person ?? state.data?.person ?? null;

const when = (ms) => moment(ms, state.data?.zone ?? "UTC", now().at);
const words = (record) => (state.data ? describe(record, state.data, state.entries) : record.kind);

/** Leave, so that another can sign in: the outbox stays, each record whose it was. */
function switchPerson() {
  const { signIn, signOut } = document.body.dataset;
  return h(
    "form",
    {
      method: "post",
      action: signOut,
      onsubmit: (event) => (event.target.elements.csrfmiddlewaretoken.value = token()),
    },
    h("input", { type: "hidden", name: "csrfmiddlewaretoken" }),
    h("input", { type: "hidden", name: "next", value: signIn }),
    h("button", { type: "submit", class: "button wide" }, "Sign out, so that another can sign in"),
  );
}

const signIn = (text) =>
  h("a", { class: "button primary wide", href: document.body.dataset.signIn }, text);

/** What the last answer asks of the person. */
function whatToDo() {
  const answers = [state.link?.why, state.listWhy];
  const told = (why) => answers.includes(why);
  if (told("revoked")) {
    return notice(
      "error",
      h(
        "p",
        {},
        h("strong", {}, "This phone was taken off the crew's list."),
        " The server takes nothing from it. What is below is safe here: save it to a file " +
          "and give that to the owner, or ask the owner to let the phone in again and sign in.",
      ),
    );
  }
  if (told("other_person")) {
    return notice(
      "warning",
      h(
        "p",
        {},
        `${me()?.name ?? "Another person"} is signed in now. What ${me()?.name ?? "they"} ` +
          "did not log waits for its own person, or is handed over below.",
      ),
    );
  }
  if (told("signed_out")) {
    return notice(
      "warning",
      h(
        "p",
        {},
        "The server does not know who you are any more. Everything stays on this phone until " +
          "you sign in as the same person.",
      ),
      signIn("Sign in to send"),
      h(
        "p",
        {},
        "Can you not sign in any more? Then your name may be off the crew's list: another of " +
          "the crew can sign in on this phone and hand over what you logged.",
      ),
    );
  }
  if (state.loss) {
    return notice(
      "error",
      h(
        "p",
        {},
        h("strong", {}, "The browser has cleared this phone's store."),
        state.loss.waiting
          ? ` ${plural(state.loss.waiting, "record")} that had not been sent ` +
              `${state.loss.waiting === 1 ? "is" : "are"} lost. Log them again from memory or ` +
              "paper."
          : " Nothing was waiting in it, so nothing is lost.",
      ),
      button("I have read this", lossRead),
    );
  }
  return null;
}

function takeBackButton(entry) {
  const what = words(entry.record);
  const take = button(
    "Take back",
    async () => {
      take.disabled = true;
      try {
        await undo(entry.uuid);
        say(`Taken back: ${what}`);
      } catch (error) {
        take.replaceWith(notice("warning", error.message));
      }
    },
    "",
    { "aria-label": `Take back: ${what}`, "data-key": `back-${entry.uuid}` },
  );
  return take;
}

function photoWords({ photos, photosWaiting }) {
  const refused = photos.filter((photo) => photo.state === "refused");
  return [
    photosWaiting > 0 && `${plural(photosWaiting, "photo")} to be sent`,
    ...refused.map((photo) => `photo not taken: ${photo.reason}`),
  ].filter(Boolean);
}

function statusWords(entry) {
  if (entry.voidedBy) {
    const undoing = state.entries.find(({ uuid }) => uuid === entry.voidedBy);
    return undoing?.status === "sent" ? "taken back" : "taken back; the server is still to be told";
  }
  if (entry.status === "sent") return `sent ${when(entry.sentAt)}`;
  return entry.status === "refused" ? "refused" : "waiting";
}

function row(entry) {
  const { record, personName, person, status } = entry;
  const facts = [`${personName}, ${when(record.at)}`, statusWords(entry), ...photoWords(entry)];
  const mine = person === me()?.id;
  const undoable = mine && record.kind !== "void" && !entry.voidedBy && status !== "refused";
  return h(
    "li",
    { class: `entry ${status}` },
    h(
      "div",
      {},
      h("strong", {}, words(record)),
      h("small", {}, facts.join(" · ")),
      entry.reason && status === "waiting" && h("small", {}, entry.reason),
    ),
    undoable && takeBackButton(entry),
  );
}

function refusedCard(entry) {
  const { record, personName, reason } = entry;
  return h(
    "section",
    { class: "card refused" },
    h("h3", {}, words(record)),
    h("p", {}, `${personName}, ${when(record.at)}`),
    notice("error", `The server did not take it: ${reason || "it gave no reason."}`),
    mending(entry),
    takeBackButton(entry),
  );
}

const rows = (entries) => (entries.length ? [h("ul", { class: "lines" }, entries.map(row))] : []);

function section(title, nodes) {
  return nodes.length ? h("section", {}, h("h2", {}, title), nodes) : null;
}

/** Records of other persons that wait on this phone: whose, and how they can go. */
function othersCard({ person, name, waiting }) {
  const hand = button(`Send ${name}'s records for ${name}`, async () => {
    hand.disabled = true;
    await handOver(person);
    await sendNow();
  });
  return notice(
    "warning",
    h(
      "p",
      {},
      `${plural(waiting, "record")} of ${name} ${waiting === 1 ? "waits" : "wait"} on this ` +
        `phone. They go up when ${name} signs in here.`,
    ),
    h(
      "p",
      {},
      `An owner may send them instead, and so may anybody once ${name} has left the crew; ` +
        `they stay ${name}'s records.`,
    ),
    hand,
  );
}

async function saveFile() {
  const link = h("a", {
    href: URL.createObjectURL(await exportFile()),
    download: "thawline-waiting.json",
  });
  link.click();
  // Long enough for the slowest phone to have taken it up.
  setTimeout(() => URL.revokeObjectURL(link.href), 60_000);
  say("Saved to a file.");
}

const MISSING = {
  not_secure: "this address is not https",
  shell: "pages not stored yet",
  lines: "lines not stored yet",
  person: "nobody has signed in yet",
};

/** "Ready for the woods", or what is missing. */
export function readyWords(ready) {
  if (!ready) return "Looking whether this phone is ready…";
  if (ready.ready) return "Ready for the woods";
  return `Not ready for the woods: ${ready.missing.map((code) => MISSING[code]).join("; ")}`;
}

const KEPT_WORDS = {
  granted: "The browser has promised to keep this phone's records.",
  denied:
    "The browser has not promised to keep this phone's records: it may clear them when room " +
    "runs out. Put the app on the home screen, and send when there is signal.",
  unavailable: "This browser makes no promise to keep records. Send when there is signal.",
};

function clockWords() {
  const off = clockBehindMs();
  if (Math.abs(off) < CLOCK_OFF_MS) return null;
  const by = age(0, Math.abs(off));
  return notice(
    "warning",
    `When the list was fetched, this phone's clock was ${by} ${off > 0 ? "slow" : "fast"}. ` +
      "The times on this page are the phone's; the server puts them right and keeps both.",
  );
}

const phoneWords = () => [
  h("p", {}, `${readyWords(state.ready)}.`),
  state.persisted && h("p", {}, KEPT_WORDS[state.persisted]),
];

function advice() {
  return [
    fold(
      "Put the app on the home screen",
      h(
        "p",
        {},
        "Android: the browser's menu, then Install app or Add to home screen. iPhone: Share, " +
          "then Add to Home Screen; open it from there, and sign in once inside it where there " +
          "is signal.",
      ),
    ),
    fold(
      "iPhone: two stores",
      h(
        "p",
        {},
        "On an iPhone the camera opens a tag's link in the browser, and the browser keeps " +
          "its records apart from the app on the home screen. Both are safe, and each sends " +
          "only its own: open both where there is signal. In the woods, use the app and its " +
          "number pad first.",
      ),
    ),
  ];
}

const whoIsHere = () =>
  me() ? `Signed in on this phone: ${me().name}.` : "Nobody has signed in on this phone yet.";

export function outboxView(main) {
  const head = h("div", {});
  const answer = h("p", { role: "status" });
  const send = button(
    "Send now",
    async () => {
      send.disabled = true;
      send.textContent = "Sending…";
      const result = await sendNow();
      send.disabled = false;
      send.textContent = "Send now";
      answer.textContent = LINK_WORDS[result.why] ?? "";
    },
    "primary wide",
  );
  const lists = h("div", {});
  const who = h("p", {});
  const phone = h("div", {});
  // Drawn once: sending goes on by itself, and must not empty an answer half given.
  const cards = new Map();
  const cardOf = (entry) => {
    if (!cards.has(entry.uuid)) cards.set(entry.uuid, refusedCard(entry));
    return cards.get(entry.uuid);
  };

  function refresh() {
    const held = document.activeElement;
    const open = state.entries.filter(({ status }) =>
      ["waiting", "refused", "sent"].includes(status),
    );
    // One that takes another back is told with the one it takes back, where that is still here.
    const own = open.filter(
      ({ record }) => record.kind !== "void" || !open.some(({ uuid }) => uuid === record.of),
    );
    const newest = own.filter(({ status }) => status === "sent").reverse();
    head.replaceChildren(...[whatToDo(), clockWords()].filter(Boolean));
    const refused = own.filter(({ status }) => status === "refused");
    lists.replaceChildren(
      ...[
        section("Refused by the server", refused.map(cardOf)),
        section("Others on this phone", state.counts.others.map(othersCard)),
        section("Waiting", rows(own.filter(({ status }) => status === "waiting"))),
        section("Sent in the last fortnight", rows(newest.slice(0, SENT_SHOWN))),
        newest.length > SENT_SHOWN && h("p", {}, `And ${newest.length - SENT_SHOWN} more.`),
        !own.length && h("p", {}, "Nothing waits, and nothing was sent from this phone yet."),
      ].filter(Boolean),
    );
    who.textContent = whoIsHere();
    phone.replaceChildren(...phoneWords().filter(Boolean));
    if (document.activeElement === held || held === document.body) return;
    const same = held.isConnected ? held : lists.querySelector(`[data-key="${held.dataset.key}"]`);
    same?.focus({ preventScroll: true });
  }

  main.append(
    head,
    who,
    send,
    answer,
    button("Save what waits to a file", saveFile, "wide"),
    lists,
    h("h2", {}, "This phone"),
    phone,
    ...advice(),
    me() ? switchPerson() : signIn("Sign in"),
  );
  refresh();
  return { refresh };
}
