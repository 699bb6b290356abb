// A look that is done, as the API takes it, and as it lies in the outbox.

import { minutesUsed } from "./checks.js";
import { mediaOf, queue } from "./store.js";

const LONGEST_MINUTES = 1440;

// The submission. It is built once: a repeat must say the same.
export function submissionOf(session) {
  const { look, visit } = session;
  const answered = [...session.answers.values()].filter((answer) => answer.kind);
  return {
    id: look.id,
    viewing: look.visit,
    state: "submitted",
    supersedes: look.supersedes,
    vote: (visit.may.vote && look.vote) || null,
    minutes: Math.min(look.minutes ?? minutesUsed(look), LONGEST_MINUTES),
    note: noteOf(session),
    observed_at: look.ended,
    findings: answered.map((answer) => findingOf(visit, answer)),
  };
}

function findingOf(visit, answer) {
  const finding = { checkpoint: answer.check, kind: answer.kind, note: answer.note };
  if (answer.kind === "could_not_look") finding.reason = answer.reason;
  if (answer.kind === "looked") {
    finding.sureness = answer.sureness;
    if (answer.level !== null) finding.level = answer.level;
    if (answer.measured !== "") {
      const check = visit.places.flatMap((part) => part.checks).find(({ code }) => code === answer.check);
      finding.measured = { value: Number(answer.measured), unit: check.measure.unit };
    }
  }
  return finding;
}

// Notes at checks that got no answer have no finding to go with.
function noteOf({ look, answers, visit }) {
  const titles = new Map(visit.places.flatMap(({ checks }) => checks.map((one) => [one.code, one.title])));
  const loose = [...answers.values()].filter((answer) => !answer.kind && answer.note);
  const lines = loose.map((answer) => `${titles.get(answer.check)}: ${answer.note}`);
  return [look.note, ...lines].filter(Boolean).join("\n").slice(0, 4000);
}

export async function close(session) {
  const ended = new Date().toISOString();
  session.look = { ...session.look, ended };
  const body = submissionOf(session);
  const look = {
    ...session.look, body, minutes: body.minutes, state: "waiting", refusal: null, at: { step: "after" },
  };
  const withFinding = new Set(body.findings.map((finding) => finding.checkpoint));
  const looked = new Set(body.findings.filter(({ kind }) => kind === "looked").map((one) => one.checkpoint));
  const media = (await mediaOf(look.id))
    .filter((one) => !one.sent && (one.kind === "photo" || looked.has(one.check)))
    .map((one) => ({ kind: one.kind, ref: one.id, check: withFinding.has(one.check) ? one.check : null }));
  const rows = [
    { kind: "conditions", ref: look.visit },
    { kind: "look", ref: look.id },
    ...media,
    ...look.questions.map((one) => ({ kind: "question", ref: one.id })),
  ].map((row) => ({
    ...row, look: look.id, person: look.person, state: "waiting", attempts: 0, refusal: null,
  }));
  await queue(look, rows);
  session.look = look;
}
