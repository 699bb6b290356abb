// All checks at a glance, to go to any of them.

import { html, nothing } from "../vendor/lit-html-3.3.3.js";
import { everyCheck, ruledOut, answerInWords } from "./checks.js";

export function listStep(session) {
  const { visit, look, answers } = session;
  const mine = session.checks;
  const codes = new Set(mine.map((check) => check.code));
  const prevented = ruledOut(visit, look, answers);
  const out = new Set(prevented.map(({ check }) => check.code));
  const rest = everyCheck(visit).filter((check) => !codes.has(check.code) && !out.has(check.code));
  const back = look.at.check;
  return html`
    <h1 tabindex="-1">All checks</h1>
    ${visit.places.map((part) => {
      const here = mine.filter((check) => check.place === part.place);
      return here.length
        ? html`<h2>${part.title}</h2><ul class="rows">${here.map((check) => row(session, check))}</ul>`
        : nothing;
    })}
    ${rest.length
      ? html`<details><summary>${rest.length} more that are not in this look</summary>
          <ul class="rows">${rest.map((check) => row(session, check, true))}</ul></details>`
      : nothing}
    ${prevented.length
      ? html`<details><summary>${prevented.length} ruled out today</summary>
          <p>They stay open; they are not fine.</p>
          <ul class="rows">${prevented.map(({ check, reasons }) => row(session, check, true, reasons))}</ul></details>`
      : nothing}
    <div class="bar">
      <button type="button" @click=${() => session.go({ step: "time" })}>Time</button>
      ${back
        ? html`<button type="button" @click=${() => session.go({ step: "check", check: back })}>Back</button>`
        : nothing}
      <button type="button" class="main" @click=${() => session.go({ step: "ending" })}>End the look</button>
    </div>`;
}

// extra: it is not among the checks of this look; going there makes it one of them.
function row(session, check, extra = false, reasons = []) {
  const { visit, look } = session;
  const answer = session.answer(check.code);
  const go = () => {
    const tried = extra ? [...look.tried, check.code] : look.tried;
    session.last = null;
    session.change({ tried, at: { step: "check", check: check.code } });
  };
  const state = reasons.length
    ? `ruled out: ${reasons.map((code) => visit.words.reasons[code]).join(", ")}`
    : stateOf(session, check, answer);
  return html`<li><button type="button" class="row" @click=${go}><span>${check.title}</span>
    <span class="quiet">${state}${reasons.length ? ". Try anyway" : ""}</span></button></li>`;
}

function stateOf(session, check, answer) {
  if (session.refusedAt(check.code).length) return "refused: put it right";
  if (answer.kind) return answerInWords(session.visit, check, answer);
  if (answer.note) return "open, with a note";
  return session.look.skipped.includes(check.code) ? "skipped, open" : "open";
}
