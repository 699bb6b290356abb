// One check fills the screen.

import { html, nothing } from "../vendor/lit-html-3.3.3.js";
import { cautionsAt, hindrancesIn, holding, reasonsFor, answerInWords } from "./checks.js";
import { NO_ROOM } from "./session.js";
import { soundPart } from "./sound.js";

const PLACES_IN_SHORT = { ground: "ground", deck: "deck", hatch: "hatch", below: "below", engine: "engine", under_way: "under way" };
// A photo is some megabytes; what is found must always have room. Browsers that do not tell how much
// there is refuse the photo itself when it is too much.
const ROOM_BYTES = 60e6;

// Between two sentences: the next one begins with a capital letter.
const BETWEEN = /(?<=[.?!])\s+(?=\p{Lu})/u;

// A sentence an item: they are long, and read standing.
export function cautionSections(cautions) {
  return cautions.map(
    (one) => html`<section class="caution"><h2>${one.title}</h2>
      <ul>${one.text.split(BETWEEN).map((sentence) => html`<li>${sentence}</li>`)}</ul>
      <p>Ask first: ${one.defer_to}.</p></section>`,
  );
}

export function cautionsStep(session, place, title, again = null) {
  const cautions = again ? cautionsAt(session.checks, place) : session.unread(place);
  return html`
    <p class="where">${title}</p>
    <h1 tabindex="-1">Before you look here</h1>
    ${cautionSections(cautions)}
    <div class="bar">
      <button type="button" class="main" @click=${again ?? (() => session.read(place))}>
        ${again ? "Back to the check" : "I have read this"}</button>
    </div>`;
}

export function checkStep(session, check, ui) {
  const answer = session.answer(check.code);
  const refused = session.refusedAt(check.code);
  return html`
    <p class="where">${PLACES_IN_SHORT[check.place]}, ${check.number} of ${check.of}
      <span class="quiet">about ${check.minutes} ${check.minutes === 1 ? "minute" : "minutes"}</span></p>
    <h1 tabindex="-1">${check.title}</h1>
    ${refused.map((text) => html`<p class="error" role="alert">Refused: ${text}</p>`)}
    <p>${check.look}</p>
    ${check.tools.length ? html`<p class="quiet">With: ${check.tools.join(", ")}.</p>` : nothing}
    ${hints(session, check)}
    ${check.cautions.length
      ? html`<button type="button" class="plain" @click=${() => ui.show("cautions")}>Cautions for this place</button>`
      : nothing}
    ${surePart(session, check, answer)}
    ${levelsPart(session, check, answer)}
    ${otherAnswers(session, check, answer, ui)}
    ${besidesPart(session, check, answer, ui)}
    ${answer.kind
      ? html`<p>You said: ${answerInWords(session.visit, check, answer)}.
          <button type="button" class="plain" @click=${() => session.clear(check.code)}>Take it away</button></p>`
      : nothing}
    ${bar(session, check)}`;
}

function hints(session, check) {
  const hindrances = hindrancesIn(session.visit, session.look.conditions);
  const words = (codes) => codes.map((code) => session.visit.words.reasons[code]).join(", ");
  const prevented = holding(check.prevented_by, hindrances);
  const hampered = holding(check.hampered_by, hindrances);
  if (prevented.length) return html`<p class="quiet">Ruled out today: ${words(prevented)}. You try it anyway.</p>`;
  if (hampered.length) return html`<p class="quiet">A look counts as a guess today: ${words(hampered)}.</p>`;
  return nothing;
}

function surePart(session, check, answer) {
  return html`<fieldset class="switch">
    <legend>How sure are you?</legend>
    <div class="options">
      ${session.visit.words.sureness.map(
        ({ code, name }) => html`<button type="button" aria-pressed=${answer.sureness === code}
          @click=${() => session.say(check.code, { sureness: code })}>${name}</button>`,
      )}
    </div>
  </fieldset>`;
}

function levelsPart(session, check, answer) {
  const choose = (level) => session.settle(check.code, { kind: "looked", level });
  return html`<div class="stack levels" role="group" aria-label="What do you see?">
    ${check.levels.map(
      ({ level, name, description }) => html`<button type="button" class="choice-button"
        aria-pressed=${answer.kind === "looked" && answer.level === level}
        @click=${() => choose(level)}><small>${name}</small><span>${description}</span></button>`,
    )}
    ${check.measure && answer.measured !== ""
      ? html`<button type="button" class="choice-button"
          aria-pressed=${answer.kind === "looked" && answer.level === null}
          @click=${() => choose(null)}><small>measured</small>
          <span>${answer.measured} ${check.measure.unit}: the level follows from it</span></button>`
      : nothing}
  </div>`;
}

function otherAnswers(session, check, answer, ui) {
  const pick = (reason) => session.settle(check.code, { kind: "could_not_look", reason });
  return html`
    <div class="options">
      <button type="button" aria-expanded=${ui.shown === "reasons"} aria-pressed=${answer.kind === "could_not_look"}
        @click=${() => ui.toggle("reasons")}>Could not look</button>
      <button type="button" aria-pressed=${answer.kind === "does_not_apply"}
        @click=${() => session.settle(check.code, { kind: "does_not_apply" })}>She has none</button>
    </div>
    ${ui.shown === "reasons"
      ? html`<div class="stack" role="group" aria-label="Why could you not look?">
          ${reasonsFor(session.visit, check, session.look.conditions).map(
            ([code, words]) => html`<button type="button" aria-pressed=${answer.reason === code}
              @click=${() => pick(code)}>${words}</button>`,
          )}
        </div>`
      : nothing}`;
}

// --- Note, measure, photos, recording, a question ------------------------------------------------

function besidesPart(session, check, answer, ui) {
  const write = (event) => session.say(check.code, { note: event.target.value.slice(0, 4000) });
  const measure = (event) => session.say(check.code, { measured: event.target.value });
  return html`
    ${check.measure
      ? html`<div class="field"><label for="measured">${check.measure.name} in ${check.measure.unit}</label>
          <input id="measured" type="number" inputmode="decimal" step="any" .value=${answer.measured} @input=${measure}></div>`
      : nothing}
    <div class="field"><label for="note">Note</label>
      <textarea id="note" rows="2" maxlength="4000" .value=${answer.note} @input=${write}></textarea></div>
    ${photosPart(session, check, ui)}
    ${check.taps ? soundPart(session, check, ui) : nothing}
    ${session.visit.may.ask ? questionPart(session, check, ui) : nothing}`;
}

function photosPart(session, check, ui) {
  const photos = session.mediaAt(check.code).filter((one) => one.kind === "photo" && one.blob);
  const take = async (event) => {
    const field = event.target;
    for (const file of field.files) {
      if (await hasRoom()) await session.addMedium(check.code, "photo", file);
      else ui.say(NO_ROOM);
    }
    field.value = "";
  };
  return html`<div class="photos">
    <label class="button" for="photo">Take a photo</label>
    <input id="photo" class="not-seen" type="file" accept="image/*" capture="environment" @change=${take}>
    ${photos.map(
      (one, n) => html`<figure><img src=${ui.address(one)} alt=${`Photo ${n + 1} of ${check.title}`}>
        <button type="button" @click=${() => session.removeMedium(one.id)}>Remove photo ${n + 1}</button></figure>`,
    )}
  </div>`;
}

async function hasRoom() {
  const { quota, usage } = (await navigator.storage?.estimate?.()) ?? {};
  return quota === undefined || quota - usage > ROOM_BYTES;
}

function questionPart(session, check, ui) {
  const asked = session.look.questions.filter((one) => one.checkpoint === check.code);
  const remove = (id) =>
    session.change({ questions: session.look.questions.filter((one) => one.id !== id) });
  return html`
    ${asked.map(
      (one) => html`<p>To settle: ${one.question}
        <button type="button" class="plain" @click=${() => remove(one.id)}>Take it away</button></p>`,
    )}
    ${ui.shown === "question"
      ? html`<form @submit=${(event) => ui.ask(event, check.code)}>
          <div class="field"><label for="question">What should be settled, in your words?</label>
            <textarea id="question" name="question" rows="2" maxlength="500" required></textarea></div>
          <div class="field"><label for="asked_of">Who can tell?</label>
            <select id="asked_of" name="asked_of">${session.visit.words.asked_of.map(
              ({ code, name }) => html`<option value=${code}>${name}</option>`,
            )}</select></div>
          <button type="submit">Keep this question</button>
        </form>`
      : html`<button type="button" class="plain" @click=${() => ui.toggle("question")}>A doubt for the group, in my words</button>`}`;
}

function bar(session, check) {
  return html`<div class="bar">
    <button type="button" @click=${() => session.go(session.previous(check.code))}>Back</button>
    <button type="button" @click=${() => session.go({ step: "list", check: check.code })}>All checks</button>
    <button type="button" @click=${() => session.skip(check.code)}>
      ${session.answer(check.code).kind ? "Next" : "Skip"}</button>
  </div>`;
}
