// Days: what the service says of a visit and the person's others of that day, kept on the phone.

import { aheadOf } from "./clock.js";
import { keep, keptDays } from "./store.js";

// A weak signal must not hold anybody up who has the day on the phone.
const PATIENCE_MS = 30_000;
const PATIENCE_IF_KEPT_MS = 5000;

// The day as the service gives it: {state: "day", day}, or why there is none: "signed-out",
// "not-here", "offline" (nobody answers, or not now).
export async function fetchDay(visitId) {
  const patience = (await keptOf(visitId)).length ? PATIENCE_IF_KEPT_MS : PATIENCE_MS;
  let answer;
  try {
    answer = await fetch(`/visits/${visitId}/day`, {
      credentials: "same-origin",
      redirect: "manual",
      signal: AbortSignal.timeout(patience),
    });
  } catch {
    return { state: "offline" };
  }
  if (answer.type === "opaqueredirect") return { state: "signed-out" };
  if (answer.status === 404) return { state: "not-here" };
  if (!answer.ok) return { state: "offline" };
  return answer.json().then((day) => ({ state: "day", day }), () => ({ state: "offline" }));
}

// Keep each visit of the day for the person who reads it.
export function keepDay(day) {
  const now = new Date().toISOString();
  return keep(
    day.visits.map((visit) => ({
      person: day.person,
      visit,
      kept_at: now,
      clock_ahead_s: aheadOf(day.read_at),
      bytes: new Blob([JSON.stringify(visit)]).size,
    })),
  );
}

export async function keptOf(visitId) {
  return (await keptDays()).filter((row) => row.visit.id === visitId);
}

// On the clock of a yard, if its zone is known, or else of this phone.
export const timeInWords = (moment, zone = null) =>
  new Date(moment).toLocaleString("en-GB", {
    dateStyle: "long", timeStyle: "short", timeZone: zone ?? undefined,
  });

export function ageInWords(since, now = Date.now()) {
  const minutes = Math.round((now - Date.parse(since)) / 60_000);
  if (minutes < 1) return "just now";
  if (minutes < 60) return `${minutes} ${minutes === 1 ? "minute" : "minutes"} ago`;
  const hours = Math.round(minutes / 60);
  if (hours < 48) return `${hours} ${hours === 1 ? "hour" : "hours"} ago`;
  return `${Math.round(hours / 24)} days ago`;
}

export function sizeInWords(bytes) {
  return bytes < 1e6 ? `${Math.max(1, Math.round(bytes / 1e3))} kB` : `${(bytes / 1e6).toFixed(1)} MB`;
}
