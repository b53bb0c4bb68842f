// Today's walk: the lines in the order that brings back most sap, what was done today apart.

import { now } from "./clock.js";
import { lineFacts } from "./picker.js";
import { othersToday } from "./check.js";
import { lines, refreshList, state } from "./state.js";
import { button, choices, h, notice } from "./ui.js";
import { age, dayNumber, moment, plural } from "./words.js";

const HALF_A_DAY = 12 * 3_600_000;
export const FORMS = [
  ["check", "Leak check"],
  ["tally", "Taps set"],
  ["pull", "Taps pulled"],
  ["dip", "Tank dip"],
  ["gauge", "Gauge"],
  ["obstruction", "Storm damage"],
  ["note", "Note"],
  ["outbox", "Sent and waiting"],
];

/** When the list was made, said loudly once others may have walked since. */
function asOf() {
  const { data, fetchedAt } = state;
  const at = now().at;
  const old = age(fetchedAt, at);
  const when = moment(fetchedAt, data.zone, at);
  if (old === null) {
    return notice(
      "error",
      `List as of ${when} by this phone's clock, which has been set back since: how old the ` +
        "list is cannot be told.",
    );
  }
  const yesterday = dayNumber(fetchedAt, data.zone) !== dayNumber(at, data.zone);
  if (yesterday || at - fetchedAt > HALF_A_DAY) {
    return notice(
      "error",
      h("strong", {}, `This list is ${old} old`),
      `: as of ${when}. What others have walked since is not on it.`,
    );
  }
  return h(
    "p",
    { class: "soft" },
    `List as of ${when}${old === "just now" ? "" : `, ${old} ago`}.`,
  );
}

function row(line) {
  return h(
    "li",
    {},
    h(
      "a",
      { class: `line ${line.state}`, href: `/field/check/?line=${line.id}` },
      h("strong", {}, line.label),
      h(
        "span",
        {},
        ` ${line.woodlot}`,
        h("small", {}, lineFacts(line)),
        othersToday(line).map((text) => h("small", {}, text)),
      ),
    ),
  );
}

function emptyList() {
  return notice(
    "warning",
    h(
      "p",
      {},
      "This phone has no list of lines yet. Open this page once where there is signal, signed in.",
    ),
    h("a", { class: "button primary", href: document.body.dataset.signIn }, "Sign in"),
  );
}

export function walkView(main) {
  const forms = h(
    "nav",
    { class: "forms", "aria-label": "Forms" },
    FORMS.map(([path, text]) => h("a", { class: "button", href: `/field/${path}/` }, text)),
  );
  let lot = "";
  const head = h("div", {});
  const list = h("div", {});
  const woodlots = state.data?.woodlots ?? [];
  const options = [["", "All"], ...woodlots.map(([, name], index) => [index, name])];
  const chips = choices("Woodlot", "lot", options, {
    chosen: "",
    kind: "chips",
    onpick: (picked) => {
      lot = picked;
      refresh();
    },
  });
  const anew = button("Get the list anew", async () => {
    anew.disabled = true;
    anew.textContent = "Asking…";
    await refreshList();
    anew.disabled = false;
    anew.textContent = "Get the list anew";
    if (state.listWhy !== "fresh")
      head.append(notice("warning", WHY[state.listWhy] ?? WHY.no_answer));
  });

  function refresh() {
    if (!state.data) {
      list.replaceChildren(emptyList());
      return;
    }
    // A redrawn list must not throw a keyboard back to the top of the page.
    const held = document.activeElement?.getAttribute("href");
    const own = lines().filter((line) => lot === "" || line.lot === lot);
    const done = own.filter((line) => line.done);
    const todo = own.filter((line) => !line.done);
    const open = list.querySelector("details")?.open;
    head.replaceChildren(asOf());
    list.replaceChildren(
      h("h2", {}, `To walk: ${plural(todo.length, "line")}`),
      todo.length
        ? h("ul", { class: "lines" }, todo.map(row))
        : h("p", {}, "Every line here is walked today."),
      h(
        "details",
        { class: "fold", open: open ?? false },
        h("summary", {}, `Done today: ${plural(done.length, "line")}`),
        h("ul", { class: "lines" }, done.map(row)),
      ),
    );
    if (held) list.querySelector(`a[href="${held}"]`)?.focus();
  }

  main.append(forms, head, ...(woodlots.length > 1 ? [chips.node] : []), list);
  if (state.data) main.append(anew);
  refresh();
  return { refresh };
}

const WHY = {
  no_answer: "The server did not answer; the stored list stays.",
  signed_out: "Sign in to get a fresh list; the stored one stays.",
  revoked:
    "This phone was taken off the crew's list; the stored lines stay, and nothing fresh comes.",
  not_secure: "This address is not https, so nothing fresh can be kept for the woods.",
};
