// On the page of a visit or of a day's plan: keep the day on the phone, and say what is kept and how old it is.

import { clockInWords } from "./clock.js";
import { ageInWords, fetchDay, keepDay, keptOf, sizeInWords } from "./days.js";
import { isFull } from "./store.js";

const part = document.querySelector("[data-day]");
const status = part?.querySelector("[data-kept]");
const button = part?.querySelector("[data-keep]");

async function tell(problem = "") {
  const rows = await keptOf(part.dataset.day);
  const lines = rows.map(
    (row) => `Kept for ${row.person.name} ${ageInWords(row.kept_at)}, ${sizeInWords(row.bytes)}.`,
  );
  const wrong = clockInWords(rows[0]?.clock_ahead_s);
  if (wrong) lines.push(`${wrong} What you find is sent with the right times all the same.`);
  if (!window.isSecureContext) {
    lines.push(
      "This connection is not secure (http), so this phone cannot open the pages without signal. " +
        "A look that is open keeps everything and sends it later: leave its page open.",
    );
  }
  status.textContent = [...lines, problem].filter(Boolean).join(" ");
  button.textContent = rows.length ? "Keep it anew" : "Keep this day on the phone";
}

const WORKER_WITHIN_MS = 10_000;
const pause = (ms) => new Promise((resolve) => setTimeout(resolve, ms));

// This page, the visits of the day and their sheets, to read without signal. The service worker
// serves them.
async function keepPages(day) {
  if (!window.caches) return;
  const ready = navigator.serviceWorker.ready; // and with it the page of the look
  if (!(await Promise.race([ready, pause(WORKER_WITHIN_MS)]))) throw new Error("the browser keeps no pages");
  const days = await caches.open("days");
  const paths = new Set([location.pathname, ...day.visits.flatMap((visit) => visit.pages)]);
  await Promise.allSettled([...paths].map((path) => days.add(path)));
}

async function keepIt() {
  const found = await fetchDay(part.dataset.day);
  if (found.state !== "day") return tell("The service does not answer: try again.");
  try {
    await keepDay(found.day);
    await keepPages(found.day);
    await navigator.storage?.persist?.();
  } catch (error) {
    return tell(isFull(error) ? "The store of this phone is full: make room, then keep the day again." : `It could not be kept (${error.message}).`);
  }
  return tell();
}

if (part) {
  button.hidden = false;
  button.addEventListener("click", keepIt);
  const rows = await keptOf(part.dataset.day);
  if (rows.length && navigator.onLine) await keepIt(); // it renews itself
  else await tell();
}
