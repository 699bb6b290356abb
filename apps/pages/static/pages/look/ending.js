// The end of a look: what is open, what was doubtful, one's own opinion, and sending it.

import { html, nothing } from "../vendor/lit-html-3.3.3.js";
import { doubtful, everyCheck, minutesUsed, open, answerInWords } from "./checks.js";
import { clockInWords } from "./clock.js";
import { close } from "./closing.js";
import { timeInWords } from "./days.js";
import { hindered, sendAll } from "./sending.js";
import { isFull } from "./store.js";

export function endingStep(session, ui) {
  const { visit, look, answers } = session;
  const left = open(session.checks, answers);
  const doubts = doubtful(session.checks, answers);
  const loose = left.filter((check) => session.answer(check.code).note);
  const done = session.checks.length - left.length;
  return html`
    <h1 tabindex="-1">End of the look</h1>
    ${session.refusedElsewhere().map((text) => html`<p class="error" role="alert">Refused: ${text}</p>`)}
    ${refusedChecks(session)}
    <p>${done} ${done === 1 ? "check" : "checks"} answered, ${left.length} open. What is open is not fine:
      nobody knows.</p>
    ${left.length
      ? html`<details><summary>What is open</summary><ul class="rows">${left.map((check) => line(session, check, "open"))}</ul></details>`
      : nothing}
    ${doubts.length
      ? html`<h2>For somebody who knows</h2>
          <p>A doubt here stays until a professional or a document settles it.</p>
          <ul class="rows">${doubts.map((check) =>
            line(session, check, `${answerInWords(visit, check, session.answer(check.code))}; ${check.professional || "somebody who knows"} judges`))}</ul>`
      : nothing}
    ${loose.length
      ? html`<p>Notes at open checks go along as words about the whole look.</p>`
      : nothing}
    ${visit.may.vote ? votePart(session) : nothing}
    <div class="field"><label for="minutes">Minutes spent</label>
      <input id="minutes" type="number" inputmode="numeric" min="1" max="1440"
        .value=${String(look.minutes ?? minutesUsed(look))}
        @input=${(event) => session.change({ minutes: Number(event.target.value) || null })}></div>
    <div class="field"><label for="about">Anything about her as a whole</label>
      <textarea id="about" rows="3" maxlength="3000" .value=${look.note}
        @input=${(event) => session.change({ note: event.target.value })}></textarea></div>
    <p class="caution">${visit.caution}</p>
    <div class="bar">
      <button type="button" @click=${() => session.go({ step: "list" })}>All checks</button>
      <button type="button" class="main" ?disabled=${!done} @click=${() => finish(session, ui)}>Send</button>
    </div>`;
}

function votePart(session) {
  const { look, visit } = session;
  return html`<fieldset class="switch"><legend>What would you do with her?</legend>
    <div class="options">${visit.words.votes.map(
      ({ code, name }) => html`<button type="button" aria-pressed=${look.vote === code}
        @click=${() => session.change({ vote: look.vote === code ? "" : code })}>${name}</button>`,
    )}</div></fieldset>`;
}

function refusedChecks(session) {
  const refused = everyCheck(session.visit).filter((check) => session.refusedAt(check.code).length);
  return refused.map(
    (check) => html`<div class="refused"><p class="error">“${check.title}”: ${session.refusedAt(check.code).join(" ")}</p>
      <div class="actions">
        <button type="button" @click=${() => session.go({ step: "check", check: check.code })}>Put it right</button>
        <button type="button" @click=${() => session.clear(check.code)}>Leave this finding out</button>
      </div></div>`,
  );
}

function line(session, check, state) {
  return html`<li><button type="button" class="row"
    @click=${() => session.go({ step: "check", check: check.code })}><span>${check.title}</span>
    <span class="quiet">${state}</span></button></li>`;
}

async function finish(session, ui) {
  try {
    await close(session);
  } catch (error) {
    return ui.say(
      isFull(error)
        ? "The store of this phone is full, so the look cannot be closed. What you found is kept: make room on the phone, then send it again."
        : `This could not be kept on this phone (${error.message}). Try again.`,
    );
  }
  ui.draw();
  return sendAll();
}

// --- After it ------------------------------------------------------------------------------------

export function afterStep(session, ui) {
  const { look, visit, answers } = session;
  const answered = everyCheck(visit).filter((check) => answers.get(check.code)?.kind);
  return html`
    <h1 tabindex="-1">${{ waiting: "Kept on this phone", sent: "Sent", refused: "Refused" }[look.state]}</h1>
    <div role="status">${stateInWords(look)}</div>
    ${look.state === "sent" && look.clock_ahead_s
      ? html`<p class="notice">${clockInWords(look.clock_ahead_s)} The times of what you found were put right.</p>`
      : nothing}
    ${(look.notes ?? []).map((note) => html`<p>${note}</p>`)}
    ${look.state === "refused" ? refusedPart(session, ui) : nothing}
    <h2>What you found</h2>
    <ul class="rows">${answered.map(
      (check) => html`<li><p>${check.title}
        <span class="quiet">${answerInWords(visit, check, answers.get(check.code))}${answers.get(check.code).note ? `. ${answers.get(check.code).note}` : ""}</span></p></li>`,
    )}</ul>
    <p class="caution">${visit.caution}</p>
    <div class="actions">
      ${look.state === "sent"
        ? html`<a class="button main" href=${visit.onward.at}>${visit.onward.name}</a>
            <button type="button" @click=${ui.correct}>Correct this look</button>`
        : nothing}
      <a class="button" href="/outbox">All that is on this phone</a>
    </div>`;
}

export function stateInWords(look) {
  if (look.state === "sent") {
    return html`<p>The service has it since ${timeInWords(look.sent_at)}. It stays readable
      on this phone for 30 days.</p>`;
  }
  if (look.state === "refused") return html`<p>The service did not take it. Nothing is lost: put it right
    and send it again.</p>`;
  if (hindered.signedOut) return signInAs(look.person);
  if (hindered.person && hindered.person.id !== look.person.id) {
    return html`<p>This is a look of ${look.person.name}, and ${hindered.person.name} is signed in. It is
      sent when ${look.person.name} signs in again.</p>`;
  }
  if (hindered.sending) return html`<p>Being sent …</p>`;
  return html`<p>Kept; it goes by itself when there is signal and this page, or any other of this
    service, is open. ${hindered.reason}</p>
    <div class="actions"><button type="button" @click=${() => sendAll()}>Try now</button></div>`;
}

export function signInAs(person) {
  const back = encodeURIComponent(location.pathname);
  return html`<p>You were signed out. Sign in again as ${person.name}, and it is sent.</p>
    <div class="actions"><a class="button main" href=${`/sign-in?next=${back}`}>Sign in as ${person.name}</a></div>`;
}

function refusedPart(session, ui) {
  return html`${(session.look.refusal.errors?.length ? [] : [session.look.refusal.detail]).map(
    (text) => html`<p class="error">${text}</p>`,
  )}
    <div class="actions">
      <button type="button" class="main" @click=${ui.reopen}>Put it right</button>
      ${ui.shown === "throw-away"
        ? html`<button type="button" @click=${ui.throwAway}>Yes, throw the whole look away</button>`
        : html`<button type="button" class="plain" @click=${() => ui.toggle("throw-away")}>Throw this look away</button>`}
    </div>`;
}
