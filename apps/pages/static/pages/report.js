// The report of a survey, typed in: more rows on demand; what is left empty is not sent.

import { clearRefusal, newId, noticeOf, Refused, send, showRefusal } from "./api.js";
import { bodyOf } from "./forms.js";

document.addEventListener("click", (event) => {
  if (!event.target.matches("[data-another]")) return;
  const rows = event.target.form.querySelectorAll("[data-row]");
  const last = rows[rows.length - 1];
  const added = copyOf(last, rows.length);
  last.after(added);
  added.querySelector("select").focus();
});

// The same row with the next number in its names, ids and legend, and with nothing in it.
function copyOf(row, number) {
  const added = row.cloneNode(true);
  added.querySelector("[data-number]").textContent = number + 1;
  for (const one of added.querySelectorAll("[id], [for], [name]")) {
    for (const name of ["id", "for", "name", "aria-describedby"]) {
      const old = one.getAttribute(name);
      if (old) one.setAttribute(name, old.replace(/findings\.\d+\./, `findings.${number}.`));
    }
  }
  for (const field of added.querySelectorAll("input, textarea")) field.value = "";
  for (const field of added.querySelectorAll("select:not([name$=currency])")) field.selectedIndex = 0;
  return added;
}

for (const form of document.querySelectorAll("form[data-report]")) {
  noticeOf(form);
  form.addEventListener("submit", (event) => {
    event.preventDefault();
    if (form.ariaBusy !== "true") enter(form);
  });
}

async function enter(form) {
  form.ariaBusy = "true";
  clearRefusal(form);
  const { body, rows } = reportOf(form);
  const content = JSON.stringify(body);
  if (form.dataset.keyFor !== content) Object.assign(form.dataset, { keyFor: content, key: newId() });
  try {
    await send("POST", form.dataset.report, body, { key: form.dataset.key });
    location.reload();
  } catch (refused) {
    if (!(refused instanceof Refused)) throw refused;
    for (const fault of refused.problem.errors ?? []) fault.pointer = asTyped(fault.pointer, rows);
    showRefusal(form, refused);
  } finally {
    form.ariaBusy = "false";
  }
}

// rows: the number of each row that is sent, because empty ones are left out.
function reportOf(form) {
  const body = bodyOf(form);
  const rows = [];
  const findings = [];
  (body.findings ?? []).forEach((row, number) => {
    const { cost, ...said } = row;
    const priced = cost && (cost.low !== undefined || cost.high !== undefined);
    if (!priced && Object.keys(said).length === 0) return;
    if (said.reason) Object.assign(said, { kind: "could_not_look" });
    findings.push(priced ? { ...said, cost } : said);
    rows.push(number);
  });
  return { body: { ...body, findings }, rows };
}

function asTyped(pointer, rows) {
  return pointer.replace(/^\/findings\/(\d+)/, (_, number) => `/findings/${rows[number]}`);
}
