// Renews a page when what it shows was worked out again: <div id="live" data-live="/path of the
// API" data-held="its ETag" data-fresh="true">. Forms outside of it keep what was typed.

import { Refused, send } from "./api.js";

const WAIT = 20; // seconds that the API holds an answer back until it is fresh
const PAUSE = 30_000; // ms between questions about what is up to date
const BREATH = 3_000; // ms between those about what is being worked out

const pause = (ms) => new Promise((done) => setTimeout(done, ms));

async function watch() {
  for (;;) {
    const live = document.querySelector("[data-live]");
    if (document.hidden || live.dataset.fresh === "true") await pause(PAUSE);
    if (document.hidden) continue;
    try {
      const asked = `${live.dataset.live}${live.dataset.fresh === "true" ? "" : `?wait=${WAIT}`}`;
      const { status } = await send("GET", asked, undefined, { held: `"${live.dataset.held}"` });
      if (status !== 304) await renew(live);
      else if (live.dataset.fresh !== "true") await pause(BREATH);
    } catch (refused) {
      if (!(refused instanceof Refused)) throw refused;
      if ([401, 403, 404].includes(refused.status)) return;
      await pause(PAUSE);
    }
  }
}

// The same part of the page as it is now; what was unfolded stays so.
async function renew(live) {
  const answer = await fetch(location.href, { credentials: "same-origin" }).catch(() => null);
  const page = answer?.ok && new DOMParser().parseFromString(await answer.text(), "text/html");
  const now = page && page.querySelector("[data-live]");
  if (!now) return pause(PAUSE);
  const open = [...live.querySelectorAll("details")].map((one) => one.open);
  [...now.querySelectorAll("details")].forEach((one, at) => (one.open ||= open[at]));
  live.replaceWith(document.adoptNode(now));
}

watch();
