// The page of one look: finds what is kept, and shows the step where the person stands.

import { newId } from "../api.js";
import { html, nothing, render } from "../vendor/lit-html-3.3.3.js";
import { cautionsStep, checkStep } from "./check.js";
import { minutesUsed, open } from "./checks.js";
import { fetchDay, keepDay, keptOf } from "./days.js";
import { afterStep, endingStep } from "./ending.js";
import { conditionsStep, timeStep, whoStep } from "./opening.js";
import { listStep } from "./overview.js";
import { changes } from "./sending.js";
import { newLook, Session } from "./session.js";
import * as store from "./store.js";

const visitId = location.pathname.split("/")[2].toLowerCase();
const root = document.getElementById("look");

let session = null;
let shownStep = "";
let message = "";
const addresses = new Map();

// What the steps may ask of the page.
const ui = {
  shown: "",
  draw,
  say(text) {
    message = text;
    draw();
  },
  show(what) {
    ui.shown = what;
    draw();
  },
  toggle: (what) => ui.show(ui.shown === what ? "" : what),
  address(medium) {
    if (!addresses.has(medium.id)) addresses.set(medium.id, URL.createObjectURL(medium.blob));
    return addresses.get(medium.id);
  },
  ask(event, checkpoint) {
    event.preventDefault();
    const { question, asked_of } = Object.fromEntries(new FormData(event.target));
    const asked = { id: newId(), checkpoint, question, asked_of };
    ui.shown = "";
    return session.change({ questions: [...session.look.questions, asked] });
  },
  async reopen() {
    const look = { ...session.look, state: "open", ended: null, at: { step: "ending" } };
    await store.takeBack(look);
    session.look = look;
    draw();
  },
  async throwAway() {
    await store.removeLook(session.look.id);
    location.assign("/outbox");
  },
  correct: () => correct(),
};

// --- Starting ------------------------------------------------------------------------------------

async function start() {
  const found = await fetchDay(visitId);
  if (found.state === "day") await keepDay(found.day).catch(() => {});
  const kept = await keptOf(visitId);
  const people = found.state === "day" ? kept.filter((row) => row.person.id === found.day.person.id) : kept;
  const mine = found.state === "day" && !people.length ? [rowOf(found.day)] : people;
  if (!mine.length) return show(nothingKept(found.state));
  const going = await lookInHand(mine);
  if (going) return resume(going.row, going.look);
  const visit = mine[0].visit;
  if (!visit.may.look) return show(html`<h1>The look</h1><p>You can see this group, but not add findings to it. Its organiser can change that.</p>`);
  if (visit.called_off) return show(html`<h1>The look</h1><p>This visit was called off.</p>`);
  const choose = async (row) => {
    const look = newLook(row.visit, row.person);
    await store.putLook(look);
    await resume(row, look);
  };
  return show(whoStep({ people: mine, visit, signedIn: found.state === "day" }, choose));
}

const rowOf = (day) => ({ person: day.person, visit: day.visits[0], kept_at: new Date().toISOString() });

// The look that one of these people has begun here, or else sent last.
async function lookInHand(rows) {
  const looks = await store.looksOf(visitId);
  for (const row of rows) {
    const own = looks.filter((look) => look.person.id === row.person.id);
    const look = own.find((one) => one.state !== "sent") ?? own.sort(byStart).at(-1);
    if (look) return { row, look };
  }
  return null;
}

const byStart = (one, other) => one.started.localeCompare(other.started);

async function resume(row, look) {
  const [answers, media, readToday] = await Promise.all([
    store.answersOf(look.id), store.mediaOf(look.id), readOn(look),
  ]);
  session = new Session(row.visit, look, answers, media, readToday, draw);
  draw();
}

// The cautions that the person has read today, at whichever boat.
async function readOn(look) {
  const today = new Date().toDateString();
  const looks = (await store.allLooks()).filter(
    (one) => one.person.id === look.person.id && new Date(one.started).toDateString() === today,
  );
  return new Set(looks.flatMap((one) => one.read));
}

async function correct() {
  const earlier = session.look;
  const look = {
    ...newLook(session.visit, earlier.person, earlier.id),
    conditions: earlier.conditions, minutes_given: earlier.minutes_given, tried: earlier.tried,
    read: earlier.read, vote: earlier.vote, note: earlier.note, minutes: earlier.minutes,
    at: { step: "list" },
  };
  await store.putLook(look);
  for (const answer of session.answers.values()) await store.putAnswer({ ...answer, look: look.id }, look);
  await resume({ visit: session.visit }, look);
}

function nothingKept(state) {
  const reasons = {
    "signed-out": html`<p>Sign in to look at this boat.</p><div class="actions"><a class="button main" href=${`/sign-in?next=${location.pathname}`}>Sign in</a></div>`,
    "not-here": html`<p>Not here, or not for you.</p>`,
    offline: html`<p>The service does not answer, and this visit is not kept on this phone. Keep the day before you leave: on the page of the visit.</p>`,
  };
  return html`<h1 tabindex="-1">The look</h1>${reasons[state]}<p><a href="/outbox">What is on this phone</a></p>`;
}

// --- Showing -------------------------------------------------------------------------------------

root.replaceChildren(); // what stands there without script

function show(content) {
  render(content, root);
}

function draw() {
  if (!session) return;
  const key = stepKey();
  const isNew = key !== shownStep;
  if (isNew) {
    message = "";
    if (ui.shown !== "cautions") ui.shown = "";
  }
  show(html`${head()}${note()}${step()}`);
  if (isNew) {
    shownStep = key;
    root.querySelector("h1")?.focus({ preventScroll: true });
    scrollTo(0, 0);
  }
}

const STEPS = { conditions: conditionsStep, time: timeStep, list: listStep, ending: endingStep };

// Where the person stands: changes with what is shown, and not with what is said there.
function stepKey() {
  const { look } = session;
  if (look.state !== "open") return `after-${look.state}`;
  const check = checkInHand();
  if (!check) return look.at.step;
  if (session.unread(check.place).length) return `cautions-${check.place}`;
  return ui.shown === "cautions" ? `again-${check.code}` : check.code;
}

function step() {
  if (session.look.state !== "open") return afterStep(session, ui);
  const check = checkInHand();
  if (!check) return (STEPS[session.look.at.step] ?? listStep)(session, ui);
  const { place, placeTitle } = check;
  if (session.unread(place).length) return cautionsStep(session, place, placeTitle);
  if (ui.shown === "cautions") return cautionsStep(session, place, placeTitle, () => ui.show(""));
  return checkStep(session, check, ui);
}

function checkInHand() {
  const { at } = session.look;
  return at.step === "check" ? session.checks.find((one) => one.code === at.check) : undefined;
}

function head() {
  const { look, visit } = session;
  const all = session.checks;
  const done = all.length - open(all, session.answers).length;
  return html`<p class="who"><strong>${visit.boat.name}</strong> <span>${look.person.name}</span>
    ${look.supersedes ? html`<span>a correction</span>` : nothing}
    ${look.state === "open" ? html`<span>${done} of ${all.length}, ${minutesUsed(look)} min</span>` : nothing}</p>`;
}

function note() {
  const { last, trouble } = session;
  const troubles = [trouble, message].filter(Boolean);
  if (troubles.length) return html`<div role="alert">${troubles.map((text) => html`<p class="error">${text}</p>`)}</div>`;
  if (!last || session.look.state !== "open") return nothing;
  const check = session.checks.find((one) => one.code === last.code);
  return html`<p class="last" role="status"><span>Kept: “${check?.title}”.</span>
    <button type="button" class="plain" @click=${() => session.undo()}>Undo</button></p>`;
}

// What was sent, or refused, meanwhile.
changes.addEventListener("change", async () => {
  if (!session || session.look.state === "open") return;
  const look = await store.lookOf(session.look.id);
  if (look && session.look.id === look.id) session.look = look;
  draw();
});

await store.forgetOld();
await start();
