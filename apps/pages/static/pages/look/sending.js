// Sends what lies in the outbox: looks first, many in one batch, then what goes with them.
// Each has an id that was made on the phone, so that a repeat changes nothing.

import { Refused, send } from "../api.js";
import * as store from "./store.js";

const MOST_AT_ONCE = 50;
const FIRST_WAIT_S = 5;
const LONGEST_WAIT_S = 300;
// A line that hangs must not hold up the next try; a photo takes its time on a weak signal.
const PATIENCE_MS = 30_000;
const PATIENCE_FOR_MEDIA_MS = 300_000;

// Tells every open page of this phone that something has changed.
const channel = new BroadcastChannel("hardstand-outbox");
export const changes = new EventTarget();
channel.onmessage = () => changes.dispatchEvent(new Event("change"));

// What hinders sending as a whole, for the pages to show: {signedOut, reason, person, sending}.
export const hindered = { signedOut: false, reason: "", person: null, sending: false };

let failures = 0;
let timer = null;
let running = null;

function tell() {
  channel.postMessage("changed");
  changes.dispatchEvent(new Event("change"));
}

// Send everything that can be sent now. One at a time, also among tabs where the browser can tell.
export function sendAll() {
  running ??= alone(sendRound).finally(() => (running = null));
  return running;
}

function alone(work) {
  if (!navigator.locks) return work();
  return navigator.locks.request("hardstand-outbox", work);
}

async function sendRound() {
  clearTimeout(timer);
  const waiting = (await store.outbox()).filter((row) => row.state === "waiting");
  if (!waiting.length) return;
  Object.assign(hindered, { sending: true, reason: "", signedOut: false });
  tell();
  try {
    const { data: person } = await send("GET", "/people/me", undefined, { patienceMs: PATIENCE_MS });
    hindered.person = { id: person.id, name: person.name };
    await sendRows(waiting.filter((row) => row.person.id === person.id));
    failures = 0;
  } catch (error) {
    if (!(error instanceof Refused)) throw error;
    await later(error, waiting);
  } finally {
    hindered.sending = false;
    tell();
  }
}

async function sendRows(rows) {
  await sendConditions(rows.filter((row) => row.kind === "conditions"));
  await sendLooks(rows.filter((row) => row.kind === "look"));
  const unsent = new Set(
    (await store.allLooks()).filter((look) => look.state !== "sent").map((look) => look.id),
  );
  for (const row of rows) {
    if (unsent.has(row.look) || !(row.kind in BESIDE)) continue;
    await sendBeside(row);
    tell();
  }
}

// Nobody answers, or not now: try again by itself, later each time.
async function later(error, rows) {
  hindered.signedOut = error.status === 401 || error.problem.code === "csrf_failed";
  hindered.reason = hindered.signedOut ? "" : error.problem.detail;
  await store.tried(rows); // some of them may have arrived before the line broke
  if (hindered.signedOut) return;
  failures += 1;
  const wait = Math.min(LONGEST_WAIT_S, FIRST_WAIT_S * 2 ** (failures - 1)) * (1 + Math.random() / 4);
  timer = setTimeout(sendAll, Math.max(wait, error.waitS) * 1000);
}

// Whether the service will say the same however often it is asked.
function isFinal(error) {
  const passing = [0, 401, 408, 412, 425, 429]; // 412: somebody changed the visit just now
  return error.status < 500 && !passing.includes(error.status) && error.problem.code !== "csrf_failed";
}

// --- Looks ---------------------------------------------------------------------------------------

// What the visit does not say yet, or says otherwise, of how she lay. Once somebody has sent
// findings, what is known of it stays as it is; what is found is not held up by that.
async function sendConditions(rows) {
  for (const row of rows) {
    const look = await store.lookOf(row.look);
    try {
      if (look) await putConditions(look);
    } catch (error) {
      if (!(error instanceof Refused) || !isFinal(error)) throw error;
    }
    await store.drop(row);
  }
}

async function putConditions(look) {
  const at = look.assignment ? `/assignments/${look.assignment}/visit` : `/viewings/${look.visit}`;
  const { data: visit, etag } = await send("GET", at, undefined, { patienceMs: PATIENCE_MS });
  const news = Object.entries(look.conditions).filter(
    ([name, value]) => value !== null && value !== "" && value !== visit.conditions[name],
  );
  if (!news.length) return;
  const conditions = Object.fromEntries(news);
  const options = { etag, patienceMs: PATIENCE_MS };
  if (look.assignment) await send("PUT", at, { starts_at: visit.starts_at, conditions }, options);
  else await send("PATCH", at, { conditions }, options);
}

async function sendLooks(rows) {
  const looks = new Map((await store.allLooks()).map((look) => [look.id, look]));
  const outside = rows.filter((row) => looks.get(row.look).assignment);
  const groups = grouped(rows.filter((row) => !outside.includes(row)), (row) => looks.get(row.look).group);
  for (const [group, ofGroup] of groups) {
    for (let at = 0; at < ofGroup.length; at += MOST_AT_ONCE) {
      await sendBatch(group, ofGroup.slice(at, at + MOST_AT_ONCE), looks);
      tell();
    }
  }
  for (const row of outside) {
    await sendAlone(row, looks.get(row.look));
    tell();
  }
}

// A look at a boat of another group, which was taken on.
async function sendAlone(row, { assignment, body }) {
  const { viewing, vote, ...submission } = body;
  try {
    const at = `/assignments/${assignment}/submissions`;
    const { data } = await send("POST", at, submission, { key: body.id, patienceMs: PATIENCE_MS });
    const change = { state: "sent", sent_at: data.submitted_at, notes: [], refusal: null };
    await store.sent(row, "looks", row.look, change);
  } catch (error) {
    if (!(error instanceof Refused) || !isFinal(error)) throw error;
    const isOver = error.status === 404;
    await refuse(row, isOver ? { ...error.problem, detail: OVER } : error.problem);
  }
}

const OVER =
  "You may no longer look at this boat: you answered or handed her back, or her group or the club " +
  "ended it. It was not sent; tell those who asked in another way.";

function grouped(rows, by) {
  const groups = new Map();
  for (const row of rows) groups.set(by(row), [...(groups.get(by(row)) ?? []), row]);
  return groups;
}

async function sendBatch(group, rows, looks) {
  const submissions = rows.map((row) => looks.get(row.look).body);
  let answer;
  try {
    const body = { sent_at: new Date().toISOString(), submissions };
    const at = `/groups/${group}/submission-batches`;
    answer = (await send("POST", at, body, { patienceMs: PATIENCE_MS })).data;
  } catch (error) {
    if (!(error instanceof Refused) || !isFinal(error)) throw error;
    for (const row of rows) await refuse(row, error.problem);
    return;
  }
  for (const [n, result] of answer.results.entries()) {
    if (result.problem) await refuse(rows[n], result.problem);
    else {
      const { received_at: sent_at, clock_ahead_s } = answer;
      // Of a wrong clock the pages speak themselves.
      const notes = result.notes.filter(({ code }) => !clock_ahead_s || code !== "clock_corrected").map(({ detail }) => detail);
      const change = { state: "sent", sent_at, clock_ahead_s, notes, refusal: null };
      await store.sent(rows[n], "looks", rows[n].look, change);
    }
  }
}

async function refuse(row, problem) {
  const { detail, code, errors } = problem;
  await store.putWaiting({ ...row, state: "refused", attempts: row.attempts + 1, refusal: { detail, code, errors } });
  if (row.kind !== "look") return;
  const look = await store.lookOf(row.look);
  await store.putLook({ ...look, state: "refused", refusal: { detail, code, errors } });
}

// --- What goes with a look -----------------------------------------------------------------------

const BESIDE = { photo: sendMedium, sound: sendMedium, question: sendQuestion };

async function sendBeside(row) {
  try {
    await BESIDE[row.kind](row);
  } catch (error) {
    if (!(error instanceof Refused) || !isFinal(error)) throw error;
    await refuse(row, error.problem);
  }
}

async function sendMedium(row) {
  const medium = await store.medium(row.ref);
  if (!medium?.blob) return store.drop(row);
  const form = new FormData();
  form.set("id", medium.id);
  if (row.check) form.set("checkpoint", row.check);
  if (medium.purpose) form.set("purpose", medium.purpose);
  form.set("file", medium.blob, medium.name || (medium.kind === "photo" ? "photo.jpg" : "taps.wav"));
  const { assignment } = await store.lookOf(row.look);
  const at = assignment ? `/assignments/${assignment}/submissions` : "/submissions";
  await send("POST", `${at}/${row.look}/${medium.kind}s`, form, {
    key: medium.id, patienceMs: PATIENCE_FOR_MEDIA_MS,
  });
  return store.sent(row, "media", medium.id, { sent: true, blob: null });
}

async function sendQuestion(row) {
  const look = await store.lookOf(row.look);
  const question = look?.questions.find((one) => one.id === row.ref);
  if (question) {
    const at = `/candidates/${look.boat.id}/follow-ups`;
    await send("POST", at, question, { key: question.id, patienceMs: PATIENCE_MS });
  }
  return store.drop(row);
}

// --- When to send --------------------------------------------------------------------------------

export function sendByItself() {
  addEventListener("online", sendAll);
  document.addEventListener("visibilitychange", () => document.hidden || sendAll());
  return sendAll();
}
