// Asks the API how the board would be with another price, level or quote, and says it in words.

import { clearRefusal, noticeOf, Refused, send, showRefusal } from "./api.js";
import { bodyOf } from "./forms.js";

for (const form of document.querySelectorAll("form[data-what-if]")) noticeOf(form);

document.addEventListener("submit", async (event) => {
  const form = event.target;
  if (!form.dataset.whatIf) return;
  event.preventDefault();
  if (form.ariaBusy === "true") return;
  form.ariaBusy = "true";
  clearRefusal(form);
  const answer = form.querySelector("[data-answer]");
  answer.replaceChildren();
  try {
    const { data } = await send("POST", `/lists/${form.dataset.whatIf}/what-if`, changesOf(form));
    answer.append(...lines(data.candidates, form.dataset.boat));
  } catch (refused) {
    if (!(refused instanceof Refused)) throw refused;
    showRefusal(form, refused);
  } finally {
    form.ariaBusy = "false";
  }
});

// What was left empty stays as it is.
function changesOf(form) {
  const { prices, quotes, findings } = bodyOf(form);
  const candidate_id = form.dataset.boat;
  const changes = {};
  if (prices) changes.prices = [{ candidate_id, ...prices[0] }];
  if (quotes?.[0].price) changes.quotes = [{ candidate_id, ...quotes[0] }];
  if (findings?.[0].checkpoint) changes.findings = [{ candidate_id, ...findings[0] }];
  return changes;
}

function lines(boats, id) {
  const own = boats.find((boat) => boat.candidate_id === id);
  const others = boats.filter((boat) => boat !== own && boat.now.place !== boat.then.place);
  return [
    line("Now", standing(own.now)),
    line("Then", own.sentence),
    ...own.then.advice.map((one) => line("Reason to strike her off", one.sentence)),
    ...others.map((boat) => line(boat.name, `place ${boat.then.place} instead of ${boat.now.place}`)),
  ];
}

function standing({ place, upfront, within_budget }) {
  const at = place ? `place ${place}` : "struck off";
  if (!upfront) return `${at}; she cannot be priced`;
  // Rounded as in the sentences of the API: it knows no more than three figures.
  const likely = Number(Number(upfront.likely).toPrecision(3));
  const cost = `${likely.toLocaleString("en")} ${upfront.currency}`;
  return `${at}; probably ${cost} up front, ${Math.round(within_budget * 100)}% likely within the budget`;
}

function line(name, text) {
  const made = document.createElement("p");
  const lead = document.createElement("strong");
  lead.textContent = `${name}: `;
  made.append(lead, text);
  return made;
}
