// The phone's own store: records and photos until the server has named them, and what was fetched.
// Nothing in it is ever renamed and upgrades only add, so that a new version finds all that waits.

const NAME = "thawline";
const VERSION = 1;
// A cookie outlives a browser that clears its stores for room, and so can tell that it did.
const MARK = "kept";
const MARK_PATH = "/field/";
const MARK_SECONDS = 400 * 24 * 3600;

let opening = null;

// An error that a page can tell apart by its code.
export function trouble(code, words) {
  return Object.assign(new Error(words), { code });
}

// A request to the store as a promise; awaiting it keeps the transaction alive.
export function ask(request) {
  return new Promise((resolve, reject) => {
    request.onsuccess = () => resolve(request.result);
    request.onerror = () => reject(request.error);
  });
}

function upgrade(db) {
  const has = db.objectStoreNames;
  if (!has.contains("records")) {
    db.createObjectStore("records", { keyPath: "uuid" }).createIndex("seq", "seq");
  }
  if (!has.contains("photos")) {
    db.createObjectStore("photos", { keyPath: "uuid" }).createIndex("of", "of");
  }
  if (!has.contains("kv")) db.createObjectStore("kv");
}

function connect() {
  return new Promise((resolve, reject) => {
    const request = indexedDB.open(NAME, VERSION);
    request.onupgradeneeded = () => upgrade(request.result);
    request.onerror = () => reject(request.error);
    request.onsuccess = () => {
      const db = request.result;
      const forget = () => {
        opening = null;
      };
      // A newer page in another tab must not wait for this one.
      db.onversionchange = () => {
        db.close();
        forget();
      };
      // The browser may take the store away while the page is open.
      db.onclose = forget;
      resolve(db);
    };
  });
}

function marked() {
  const found = document.cookie.match(`(?:^|; )${MARK}=(\\d+)`);
  return found ? Number(found[1]) : null;
}

// Note outside the store how many records wait in it.
export function mark(waiting) {
  if (marked() === waiting) return;
  document.cookie = `${MARK}=${waiting}; path=${MARK_PATH}; max-age=${MARK_SECONDS}; samesite=lax`;
}

// A store without its birth note is new: if the cookie knows of one, that one was taken away.
async function christen(db) {
  const kv = db.transaction("kv", "readwrite").objectStore("kv");
  if ((await ask(kv.get("born"))) !== undefined) return;
  kv.put(Date.now(), "born");
  if (marked() !== null) kv.put({ waiting: marked(), at: Date.now() }, "loss");
}

function open() {
  opening ??= connect()
    .then(async (db) => {
      await christen(db);
      return db;
    })
    .catch((error) => {
      opening = null;
      throw trouble("no_store", `This browser gives the page no store: ${error?.message ?? error}`);
    });
  return opening;
}

async function begin(names, mode) {
  try {
    return (await open()).transaction(names, mode, { durability: "strict" });
  } catch (error) {
    if (error.name !== "InvalidStateError") throw error;
    // The connection was closed under us; the store is opened anew, once.
    opening = null;
    return (await open()).transaction(names, mode, { durability: "strict" });
  }
}

function refusal(error) {
  if (error?.name === "QuotaExceededError") {
    return trouble("storage_full", "The phone's store is full: nothing was saved.");
  }
  return error ?? trouble("no_store", "The phone's store gave up: nothing was saved.");
}

function stop(transaction) {
  try {
    transaction.abort();
  } catch {
    // It had given up by itself.
  }
}

// Do some work in one transaction. Resolves to the work's value once all of it is on the disk:
// a full store shows itself at the very end, when the request for room has long "succeeded".
async function transact(names, mode, work) {
  const transaction = await begin(names, mode);
  const stores = Object.fromEntries(names.map((name) => [name, transaction.objectStore(name)]));
  return new Promise((resolve, reject) => {
    let value;
    let failure;
    transaction.oncomplete = () => resolve(value);
    transaction.onabort = () => reject(refusal(transaction.error ?? failure));
    Promise.resolve(work(stores)).then(
      (result) => {
        value = result;
      },
      (error) => {
        failure = error;
        stop(transaction);
      },
    );
  });
}

export const write = (names, work) => transact(names, "readwrite", work);
export const read = (names, work) => transact(names, "readonly", work);
export const get = (key) => read(["kv"], ({ kv }) => ask(kv.get(key)));
export const put = (key, value) => write(["kv"], ({ kv }) => void kv.put(value, key));

// What the browser threw away: {waiting, at}, until the person has read it.
export const loss = async () => (await get("loss")) ?? null;
export const forgetLoss = () => write(["kv"], ({ kv }) => void kv.delete("loss"));

// crypto.randomUUID is missing on plain http; the random numbers behind it are not.
export function newUuid() {
  const bytes = crypto.getRandomValues(new Uint8Array(16));
  bytes[6] = (bytes[6] & 0x0f) | 0x40;
  bytes[8] = (bytes[8] & 0x3f) | 0x80;
  const hex = [...bytes].map((byte) => byte.toString(16).padStart(2, "0")).join("");
  return hex.replace(/^(.{8})(.{4})(.{4})(.{4})(.{12})$/, "$1-$2-$3-$4-$5");
}

// This phone's own name, made once.
export function phone() {
  return write(["kv"], async ({ kv }) => {
    const known = await ask(kv.get("phone"));
    if (known) return known;
    const made = newUuid();
    kv.put(made, "phone");
    return made;
  });
}
