// On every page: sends what waits on this phone and says how much it is, keeps the pages of the
// look for when there is no signal, and leaves nothing of whoever signs out.

import { changes, sendByItself } from "./sending.js";
import * as store from "./store.js";

const link = document.querySelector("[data-unsent]");
const signOut = document.querySelector("form[data-sign-out]");

async function unsentLooks() {
  const rows = await store.outbox();
  const waiting = new Set(rows.map((row) => row.look));
  return (await store.allLooks()).filter((look) => look.state !== "sent" || waiting.has(look.id));
}

async function tell() {
  const { length } = await unsentLooks();
  link.hidden = length === 0;
  link.textContent = `${length} not sent yet`;
}

// Signing out asks once more where something is not sent, and clears this phone of the rest.
signOut?.addEventListener("submit", async (event) => {
  event.preventDefault();
  const unsent = await unsentLooks();
  if (unsent.length && !signOut.dataset.warned) {
    signOut.dataset.warned = "yes";
    const names = [...new Set(unsent.map((look) => look.person.name))].join(" and ");
    const notice = document.createElement("p");
    notice.className = "notice";
    notice.setAttribute("role", "alert");
    notice.textContent =
      `What ${names} found and did not send stays on this phone until the same person signs in ` +
      "here again. Press the button once more to sign out.";
    document.querySelector("main").prepend(notice);
    return;
  }
  await store.forgetPerson();
  await window.caches?.delete("days");
  signOut.submit();
});

async function keepPages() {
  if (!navigator.serviceWorker) return; // over plain http
  const registration = await navigator.serviceWorker.register("/sw.js");
  const takeOver = () => registration.waiting?.postMessage("take over");
  setTimeout(takeOver, 1000); // at first the browser still counts a look that was just left
  registration.addEventListener("updatefound", () =>
    registration.installing.addEventListener("statechange", takeOver),
  );
}

changes.addEventListener("change", tell);
keepPages().catch(() => {}); // the pages work without it, as long as there is signal
await tell();
await sendByItself();
