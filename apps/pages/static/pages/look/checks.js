// Which checks there are to make, in which order, and how far one has come. Pure functions.

// The codes of what the conditions of the day bring along, by the catalogue's own table.
export function hindrancesIn(visit, conditions) {
  const codes = visit.words.conditions.flatMap((question) => {
    const answer = question.answers.find((one) => one.value === conditions[question.name]);
    return answer?.brings ?? [];
  });
  return new Set(codes);
}

export const holding = (codes, hindrances) => codes.filter((code) => hindrances.has(code));

// All checks of the boat in walking order, each with its place.
export function everyCheck(visit) {
  return visit.places.flatMap((part) =>
    part.checks.map((check) => ({ ...check, place: part.place, placeTitle: part.title })),
  );
}

// The checks of this look: those that fit into the time and that the conditions allow, and those
// that the person wants to try anyway or has answered.
export function chosen(visit, look, answers) {
  const hindrances = hindrancesIn(visit, look.conditions);
  const given = look.minutes_given;
  const first = given ? new Set(given === "open" ? visit.open : visit.first[given]) : null;
  const picked = everyCheck(visit).filter((check) => {
    if (look.tried.includes(check.code) || answers.get(check.code)?.kind) return true;
    if (holding(check.prevented_by, hindrances).length) return false;
    return !first || first.has(check.code);
  });
  return numbered(picked);
}

function numbered(checks) {
  const counts = new Map();
  for (const { place } of checks) counts.set(place, (counts.get(place) ?? 0) + 1);
  const at = new Map();
  return checks.map((check) => {
    at.set(check.place, (at.get(check.place) ?? 0) + 1);
    return { ...check, number: at.get(check.place), of: counts.get(check.place) };
  });
}

export function ruledOut(visit, look, answers) {
  const hindrances = hindrancesIn(visit, look.conditions);
  return everyCheck(visit)
    .filter((check) => !look.tried.includes(check.code) && !answers.get(check.code)?.kind)
    .map((check) => ({ check, reasons: holding(check.prevented_by, hindrances) }))
    .filter(({ reasons }) => reasons.length);
}

// The next check after this one that has no answer.
export function nextOpen(checks, answers, code) {
  const at = checks.findIndex((check) => check.code === code);
  return checks.slice(at + 1).find((check) => !answers.get(check.code)?.kind) ?? null;
}

export const open = (checks, answers) => checks.filter((check) => !answers.get(check.code)?.kind);

// The cautions of a place: of its checks in this look, each once.
export function cautionsAt(checks, place) {
  const found = new Map();
  for (const check of checks) {
    if (check.place !== place) continue;
    for (const caution of check.cautions) found.set(caution.code, caution);
  }
  return [...found.values()];
}

// What was found so bad that somebody who knows must judge it.
export function doubtful(checks, answers) {
  return checks.filter((check) => {
    const answer = answers.get(check.code);
    return answer?.kind === "looked" && check.guarded && answer.level >= check.doubt_from;
  });
}

// Why a check could not be looked at: what goes for this one as she lies today, and what may turn up
// anywhere.
export function reasonsFor(visit, check, conditions) {
  const hindrances = new Set(visit.words.hindrances);
  const out = excluded(visit, conditions);
  const own = new Set([...check.prevented_by, ...check.hampered_by].filter((code) => !out.has(code)));
  return Object.entries(visit.words.reasons).filter(([code]) => own.has(code) || !hindrances.has(code));
}

// What another answer would bring to a question that is answered: ashore she is not afloat.
function excluded(visit, conditions) {
  const here = hindrancesIn(visit, conditions);
  const answered = visit.words.conditions.filter(({ name, answers }) =>
    answers.some((one) => one.value === conditions[name]),
  );
  const brought = answered.flatMap(({ answers }) => answers.flatMap((one) => one.brings));
  return new Set(brought.filter((code) => !here.has(code)));
}

// An answer in words.
export function answerInWords(visit, check, answer) {
  if (!answer?.kind) return "open";
  if (answer.kind === "does_not_apply") return "she has none";
  if (answer.kind === "could_not_look") return `could not look: ${visit.words.reasons[answer.reason]}`;
  const sureness = visit.words.sureness.find((one) => one.code === answer.sureness).name;
  const measured = answer.measured === "" ? "" : `, ${answer.measured} ${check.measure?.unit ?? ""}`;
  if (answer.level === null) return `measured${measured.slice(1)} (${sureness})`;
  return `${check.levels[answer.level].name}${measured} (${sureness})`;
}

export const minutesUsed = (look, now = Date.now()) =>
  Math.max(1, Math.round(((look.ended ? Date.parse(look.ended) : now) - Date.parse(look.started)) / 60_000));
