// The phone's pages: one shell, the view chosen by the address. What is stored is shown first;
// nothing here waits for the network.

import { now } from "./clock.js";
import { checkView } from "./check.js";
import { dipView, gaugeView, noteView, obstructionView } from "./others.js";
import { outboxView, readyWords } from "./outbox_view.js";
import { begin, listen, settle, state } from "./state.js";
import { stopPosition } from "./place.js";
import { start } from "./sync.js";
import { pullView, tallyView } from "./tally.js";
import { button, h, notice } from "./ui.js";
import { apply, onUpdate, register } from "./update.js";
import { walkView } from "./walk.js";
import { age, plural } from "./words.js";

const ROOT = "/field/";
const VIEWS = {
  "": { title: "Today's walk", show: walkView, needs: false },
  check: { title: "Leak check", show: checkView, needs: true },
  line: { title: "Leak check", show: checkView, needs: true },
  tally: { title: "Taps set", show: tallyView, needs: true },
  pull: { title: "Taps pulled", show: pullView, needs: true },
  dip: { title: "Tank dip", show: dipView, needs: true },
  gauge: { title: "Pump-house gauge", show: gaugeView, needs: true },
  obstruction: { title: "Storm damage", show: obstructionView, needs: true },
  note: { title: "Note", show: noteView, needs: true },
  outbox: { title: "Sent and waiting", show: outboxView, needs: false },
};

let current = null;
let updateReady = false;

function waitingWords() {
  const { waiting, refused, photos, oldestAt } = state.counts;
  const old = oldestAt === null ? "" : age(oldestAt, now().at);
  const parts = [
    // An age that cannot be told is left out: the phone's clock was set back.
    waiting > 0 && `${waiting} waiting${old ? `, oldest ${old}` : ""}`,
    photos > 0 && `${plural(photos, "photo")} to send`,
    refused > 0 && `${refused} refused`,
  ].filter(Boolean);
  if (!parts.length) return "All sent";
  const signedOut = state.link?.why === "signed_out" ? "; sign in to send" : "";
  return parts.join(", ") + signedOut;
}

function drawHead() {
  document.getElementById("waiting").textContent = waitingWords();
  const ready = document.getElementById("ready");
  ready.textContent = readyWords(state.ready);
  ready.className = state.ready && !state.ready.ready ? "not-ready" : "";
}

/** A new version is offered where nothing is being entered, and taken on a touch alone. */
function updateOffer() {
  if (!updateReady) return null;
  return notice(
    "",
    h("p", {}, "A newer version of these pages is here. What waits stays waiting."),
    button("Use the new version", apply),
  );
}

function show({ focus = true } = {}) {
  const [, name = ""] = location.pathname.match(/^\/field\/([^/]*)/) ?? [];
  const view = VIEWS[name] ?? VIEWS[""];
  const main = document.getElementById("main");
  stopPosition();
  const title = h("h1", { tabindex: "-1" }, view.title);
  main.replaceChildren(title);
  document.title = `${view.title} · Thawline`;
  if (view.needs && !state.data) {
    main.append(
      notice(
        "warning",
        "This phone has no list of lines yet. Open these pages once where there is signal, " +
          "signed in.",
      ),
    );
    current = { name };
  } else {
    const offer = view.needs ? null : updateOffer();
    if (offer) main.append(offer);
    const query = new URLSearchParams(location.search);
    current = { name, ...view.show(main, { path: location.pathname, query }) };
  }
  current.drawnWithList = Boolean(state.data);
  current.place = location.pathname + location.search;
  const home = view === VIEWS[""] ? "page" : "false";
  document.querySelector(".home").setAttribute("aria-current", home);
  if (focus) {
    window.scrollTo(0, 0);
    title.focus();
  }
}

function changed() {
  drawHead();
  // A form is never drawn anew under somebody's thumb: it waits for the first list at most.
  if (current && !current.drawnWithList && state.data) show({ focus: false });
  else current?.refresh?.();
}

/** Moves inside the phone's pages without asking the network, as long as the page is open. */
function follow(event) {
  const link = event.target.closest("a[href]");
  const plain = event.button === 0 && !event.metaKey && !event.ctrlKey && !event.shiftKey;
  if (!link || !plain || link.origin !== location.origin || link.hasAttribute("download")) return;
  // A leap within the page is the browser's own.
  if (!link.pathname.startsWith(ROOT) || link.hash) return;
  event.preventDefault();
  history.pushState(null, "", link.href);
  show();
}

document.addEventListener("click", follow);
window.addEventListener("popstate", () => {
  // A leap within the page comes here too, and would empty a form half filled in.
  if (location.pathname + location.search !== current.place) show();
});
listen(changed);
onUpdate(() => {
  updateReady = true;
  if (current && !VIEWS[current.name]?.needs) show({ focus: false });
});

await begin();
show({ focus: false });
drawHead();
start();
register();
await settle();
