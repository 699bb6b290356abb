// Before the first check: who looks, how she lies, how much time there is.

import { html, nothing } from "../vendor/lit-html-3.3.3.js";
import { cautionSections } from "./check.js";
import { everyCheck, holding, hindrancesIn } from "./checks.js";
import { ageInWords } from "./days.js";

export function whoStep({ people, visit, signedIn }, choose) {
  return html`
    <h1 tabindex="-1">Who is looking?</h1>
    <p>${visit.boat.name}${visit.boat.where ? `, ${visit.boat.where}` : ""}. What is found now is kept
      and sent under this name.</p>
    <div class="stack">
      ${people.map(
        (row) => html`<button type="button" class="main" @click=${() => choose(row)}>
          I am ${row.person.name}</button>`,
      )}
    </div>
    <p class="quiet">${signedIn
      ? "Somebody else? Sign out first, then sign in as yourself."
      : html`There is no signal, so nobody else can sign in now. This day was kept
        ${ageInWords(people[0].kept_at)}.`}</p>`;
}

export function conditionsStep(session) {
  const { visit, look } = session;
  const toSea = visit.kind === "sea_trial";
  return html`
    <h1 tabindex="-1">${toSea ? "Before you cast off" : "How does she lie today?"}</h1>
    ${cautionSections(visit.cautions ?? [])}
    ${toSea ? html`<h2>What is it like today?</h2>` : nothing}
    <p>Leave at "not known" what you cannot tell. What this rules out is listed and can be tried
      anyway.</p>
    ${visit.words.conditions.map((question) => conditionField(session, question))}
    ${ruledOutByConditions(visit, look)}
    <div class="bar">
      <button type="button" class="main" @click=${() => session.go({ step: "time" })}>Go on</button>
    </div>`;
}

const MOST_BUTTONS = 4;

function conditionField(session, { name, question, answers }) {
  const given = session.look.conditions[name];
  const options = [...answers, { value: unknownAmong(answers), name: "not known" }];
  const isChosen = (value) => value === given || (isUnknown(value) && isUnknown(given));
  const choose = (value) =>
    session.change({ conditions: { ...session.look.conditions, [name]: value } });
  if (answers.length > MOST_BUTTONS) return html`<div class="field">
    <label for=${name}>${upper(question)}</label>
    <select id=${name} @change=${(event) => choose(options[event.target.selectedIndex].value)}>
      ${options.map((one) => html`<option ?selected=${isChosen(one.value)}>${one.name}</option>`)}
    </select>
  </div>`;
  return html`<fieldset class="switch">
    <legend>${upper(question)}</legend>
    <div class="options">
      ${options.map(
        (one) => html`<button type="button" aria-pressed=${isChosen(one.value)}
          @click=${() => choose(one.value)}>${one.name}</button>`,
      )}
    </div>
  </fieldset>`;
}

const unknownAmong = (answers) => (typeof answers[0].value === "string" ? "" : null);
const isUnknown = (value) => value === null || value === "" || value === undefined;

function ruledOutByConditions(visit, look) {
  const hindrances = hindrancesIn(visit, look.conditions);
  const count = everyCheck(visit).filter((check) => holding(check.prevented_by, hindrances).length).length;
  return count ? html`<p role="status">This rules out ${count} ${count === 1 ? "check" : "checks"}. They stay open; they are not fine.</p>` : nothing;
}

export function timeStep(session) {
  const { visit, look } = session;
  const open = ["open", "What is open", "What nobody could look at yet, and what is worth another look."];
  const timed = [
    [15, "15 minutes", "What matters most, once around and through her."],
    [60, "An hour", "The first look and what is worth most after it."],
  ];
  const choices = [
    ...(visit.open?.length ? [open] : []),
    ...(visit.kind === "sea_trial" ? [] : timed),
    [null, "Everything", "All checks that can be made today."],
  ];
  const start = (minutes_given) => {
    const at = { ...look, minutes_given };
    session.look = at;
    const first = session.checks.find((check) => !session.answers.get(check.code)?.kind);
    return session.change({ minutes_given, at: first ? { step: "check", check: first.code } : { step: "ending" } });
  };
  return html`
    <h1 tabindex="-1">${visit.kind === "sea_trial" ? "What will you look at?" : "How long have you got?"}</h1>
    <div class="stack">
      ${choices.map(
        ([minutes, name, sentence]) => html`<button type="button" class="choice-button"
          aria-pressed=${look.minutes_given === minutes && look.at.step !== "time"}
          @click=${() => start(minutes)}><strong>${name}</strong><span>${sentence}</span></button>`,
      )}
    </div>
    <p class="quiet">The rest stays reachable under "All checks".</p>
    <p class="caution">${visit.caution}</p>
    <div class="bar"><button type="button" @click=${() => session.go({ step: "conditions" })}>Back</button></div>`;
}

export const upper = (text) => text.charAt(0).toUpperCase() + text.slice(1);
