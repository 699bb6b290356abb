// All that is on this phone: what is kept, what was sent, what was refused and why.

import { html, render } from "../vendor/lit-html-3.3.3.js";
import { clockInWords } from "./clock.js";
import { ageInWords, sizeInWords, timeInWords } from "./days.js";
import { stateInWords } from "./ending.js";
import { changes, hindered, sendAll } from "./sending.js";
import * as store from "./store.js";

const root = document.getElementById("outbox");
const KINDS = { photo: "a photo", sound: "a recording", question: "a question", look: "the findings" };
let leavingOut = null;

async function draw() {
  const [looks, rows, kept] = await Promise.all([store.allLooks(), store.outbox(), store.keptDays()]);
  looks.sort((one, other) => other.started.localeCompare(one.started));
  const waiting = new Set(rows.map((row) => row.look));
  const unsent = looks.filter((look) => look.state !== "sent" || waiting.has(look.id));
  const sent = looks.filter((look) => !unsent.includes(look));
  render(
    html`
      <section aria-labelledby="unsent"><h2 id="unsent">Not sent yet</h2>
        ${unsent.length ? unsent.map((look) => unsentPart(look, rows.filter((row) => row.look === look.id)))
          : html`<p>Nothing: all that you found is with the service. What you find in a yard stands here until it is sent.</p>`}
      </section>
      <section aria-labelledby="sent"><h2 id="sent">Sent</h2>
        ${sent.length
          ? html`<ul class="rows">${sent.map((look) => html`<li><a href=${`/visits/${look.visit}/look`}>${look.boat.name}
              <span class="quiet">${look.person.name}, ${sentInWords(look)}</span></a></li>`)}</ul>`
          : html`<p>Looks that were sent from this phone stay readable here for 30 days.</p>`}
      </section>
      <section aria-labelledby="days"><h2 id="days">Days kept on this phone</h2>
        ${kept.length
          ? html`<ul class="rows">${kept.map((row) => html`<li><a href=${`/visits/${row.visit.id}/look`}>${row.visit.boat.name}
              <span class="quiet">${timeInWords(row.visit.starts_at, row.visit.time_zone)}, for ${row.person.name}; kept ${ageInWords(row.kept_at)}, ${sizeInWords(row.bytes)}</span></a></li>`)}</ul>`
          : html`<p>None. On the page of a visit you can keep its day, and look without signal.</p>`}
      </section>`,
    root,
  );
}

function unsentPart(look, rows) {
  const beside = rows.filter((row) => !["look", "conditions"].includes(row.kind));
  const refused = beside.filter((row) => row.state === "refused");
  const state = look.state === "open" ? html`<p>Not ended yet. It is kept on this phone.</p>`
    : look.state === "sent" ? html`<p>The findings are sent. ${besideInWords(beside.length - refused.length)}</p>${stateOfBeside()}`
      : stateInWords(look);
  return html`<article><h3>${look.boat.name}, ${look.person.name}</h3>
    ${state}
    ${refused.map((row) => refusedPart(row))}
    <p><a href=${`/visits/${look.visit}/look`}>Open this look</a></p></article>`;
}

const besideInWords = (count) =>
  count === 0 ? "" : count === 1 ? "One photo, recording or question waits." : `${count} photos, recordings or questions wait.`;

function stateOfBeside() {
  if (hindered.signedOut) return html`<p>You were signed out. <a href="/sign-in?next=/outbox">Sign in again</a>.</p>`;
  return html`<p>${hindered.reason}</p><div class="actions"><button type="button" @click=${() => sendAll()}>Try now</button></div>`;
}

function refusedPart(row) {
  const reasons = row.refusal.errors?.length ? row.refusal.errors.map((error) => error.detail) : [row.refusal.detail];
  const again = async () => {
    await store.putWaiting({ ...row, state: "waiting", refusal: null });
    await sendAll();
  };
  const leaveOut = async () => {
    if (row.kind === "photo" || row.kind === "sound") await store.removeMedium(row.ref);
    await store.drop(row);
    await draw();
  };
  return html`<p class="error">Refused: ${KINDS[row.kind]}. ${reasons.join(" ")}</p>
    <div class="actions"><button type="button" @click=${again}>Try again</button>
      ${leavingOut === row.order
        ? html`<button type="button" @click=${leaveOut}>Yes, leave it out for good</button>`
        : html`<button type="button" class="plain" @click=${() => { leavingOut = row.order; draw(); }}>Leave it out</button>`}
    </div>`;
}

// When the service had it, by its own clock.
function sentInWords({ sent_at, clock_ahead_s = 0 }) {
  const sent = `sent ${ageInWords(sent_at, Date.now() - clock_ahead_s * 1000)}`;
  return [sent, clockInWords(clock_ahead_s)].filter(Boolean).join(". ");
}

changes.addEventListener("change", draw);
await store.forgetOld();
await draw();
