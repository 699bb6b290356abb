// What is kept on this phone. Every function is one transaction, done when its promise is.
//
// looks    one row a boat, person and visit: {id, person, visit, boat, group, conditions, ...}
//          state: open, waiting (to be sent), refused, sent
// answers  one row a check of a look: {look, check, kind, level, reason, sureness, note, ...}
// media    photos and recordings: {id, look, check, kind, blob, purpose, sent}
// kept     one row a person and visit: the visit as the service gave it, with when and how large
// outbox   what is to be sent, in order: {order, look, person, kind, ref, attempts, state, refusal}

import { openDB } from "../vendor/idb-8.0.4.js";

// Each step leads from one version of the store to the next. A step that was published stays.
const STEPS = [
  (db) => {
    db.createObjectStore("looks", { keyPath: "id" }).createIndex("visit", "visit");
    db.createObjectStore("answers", { keyPath: ["look", "check"] }).createIndex("look", "look");
    db.createObjectStore("media", { keyPath: "id" }).createIndex("look", "look");
    db.createObjectStore("kept", { keyPath: ["person.id", "visit.id"] });
    const outbox = db.createObjectStore("outbox", { keyPath: "order", autoIncrement: true });
    outbox.createIndex("look", "look");
  },
];
const KEPT_DAYS = 30;

let opened = null;

function store() {
  opened ??= openDB("hardstand", STEPS.length, {
    upgrade: (db, from) => STEPS.slice(from).forEach((step) => step(db)),
    blocking: (_now, _next, event) => event.target.close(), // another tab has a newer version
    terminated: () => (opened = null),
  });
  return opened;
}

// Write as one: all of it is kept, or nothing is. "strict": kept also when the battery dies.
async function write(names, work) {
  const db = await store();
  const transaction = db.transaction(names, "readwrite", { durability: "strict" });
  const done = work(...names.map((name) => transaction.objectStore(name)));
  await Promise.all([done, transaction.done]);
  return done;
}

export const isFull = (error) => error.name === "QuotaExceededError";

// --- Days ----------------------------------------------------------------------------------------

export const keep = (rows) =>
  write(["kept"], (kept) => Promise.all(rows.map((row) => kept.put(row))));

export const keptDays = async () => (await store()).getAll("kept");

export const forgetKept = (key) => write(["kept"], (kept) => kept.delete(key));

// --- Looks ---------------------------------------------------------------------------------------

export const allLooks = async () => (await store()).getAll("looks");

export const lookOf = async (id) => (await store()).get("looks", id);

export const looksOf = async (visit) => (await store()).getAllFromIndex("looks", "visit", visit);

export const putLook = (look) => write(["looks"], (looks) => looks.put(look));

export const answersOf = async (look) => (await store()).getAllFromIndex("answers", "look", look);

// An answer and where the person stands in the look belong together.
export const putAnswer = (answer, look) =>
  write(["answers", "looks"], (answers, looks) => Promise.all([answers.put(answer), looks.put(look)]));

export const removeAnswer = (answer, look) =>
  write(["answers", "looks"], (answers, looks) =>
    Promise.all([answers.delete([answer.look, answer.check]), looks.put(look)]),
  );

export const mediaOf = async (look) => (await store()).getAllFromIndex("media", "look", look);

export const medium = async (id) => (await store()).get("media", id);

export const putMedium = (row) => write(["media"], (media) => media.put(row));

export const removeMedium = (id) => write(["media"], (media) => media.delete(id));

// A look with everything that belongs to it.
export const removeLook = (id) =>
  write(["looks", "answers", "media", "outbox"], async (looks, ...others) => {
    await looks.delete(id);
    for (const other of others) {
      for (const key of await other.index("look").getAllKeys(id)) await other.delete(key);
    }
  });

// --- Outbox --------------------------------------------------------------------------------------

export const outbox = async () => (await store()).getAll("outbox");

// The look is closed and all of it goes into the outbox, or neither.
export const queue = (look, rows) =>
  write(["looks", "outbox"], async (looks, box) => {
    for (const key of await box.index("look").getAllKeys(look.id)) await box.delete(key);
    await looks.put(look);
    for (const row of rows) await box.add(row);
  });

export const putWaiting = (row) => write(["outbox"], (box) => box.put(row));

// One more try, of those that are still there and wait.
export const tried = (rows) =>
  write(["outbox"], async (box) => {
    for (const { order } of rows) {
      const row = await box.get(order);
      if (row?.state === "waiting") await box.put({ ...row, attempts: row.attempts + 1 });
    }
  });

// What was sent leaves the outbox; `change` is noted at what it was.
export const sent = (row, name, id, change) =>
  write(["outbox", name], async (box, rows) => {
    await box.delete(row.order);
    const stored = await rows.get(id);
    if (stored) await rows.put({ ...stored, ...change });
  });

// A look that is opened again is no longer to be sent.
export const takeBack = (look) =>
  write(["looks", "outbox"], async (looks, box) => {
    for (const key of await box.index("look").getAllKeys(look.id)) await box.delete(key);
    await looks.put(look);
  });

export const drop = (row) => write(["outbox"], (box) => box.delete(row.order));

// --- Tidying up ----------------------------------------------------------------------------------

// Sent looks and kept days stay readable for a while; sent photos are with the service.
export async function forgetOld(now = Date.now()) {
  const old = now - KEPT_DAYS * 24 * 3600_000;
  for (const look of await allLooks()) {
    if (look.state === "sent" && Date.parse(look.sent_at) < old) await removeLook(look.id);
  }
  for (const { person, visit } of await keptDays()) {
    if (Date.parse(visit.starts_at) < old) await forgetKept([person.id, visit.id]);
  }
}

// When somebody signs out: nothing of them stays but what is not sent yet.
export async function forgetPerson() {
  for (const row of await keptDays()) await forgetKept([row.person.id, row.visit.id]);
  const waiting = new Set((await outbox()).map((row) => row.look));
  for (const look of await allLooks()) {
    if (look.state === "sent" && !waiting.has(look.id)) await removeLook(look.id);
  }
}
