// One look while it is made: what is known of it, and every change of it, kept at once.

import { newId } from "../api.js";
import * as checks from "./checks.js";
import * as store from "./store.js";

const FULL =
  "The store of this phone is full: the last tap was not kept. Make room on the phone, then tap again.";
export const NO_ROOM =
  "There is no room for more photos and recordings on this phone. What you find is still kept. " +
  "Make room, or send what waits.";

const blank = (look, code) => ({
  look, check: code, kind: "", level: null, reason: "", sureness: "fairly", note: "", measured: "",
});

export function newLook(visit, person, supersedes = null) {
  return {
    id: newId(),
    person,
    visit: visit.id,
    boat: visit.boat,
    group: visit.group,
    assignment: visit.assignment, // of a look for another group
    starts_at: visit.starts_at,
    conditions: { ...visit.conditions },
    minutes_given: null, // or "open": only what is still open
    tried: [],
    skipped: [],
    read: [],
    questions: [],
    vote: "",
    note: "",
    started: new Date().toISOString(),
    ended: null,
    minutes: null,
    supersedes,
    state: "open",
    refusal: null,
    at: { step: "conditions" },
  };
}

export class Session {
  constructor(visit, look, answers, media, readToday, changed) {
    this.visit = visit;
    this.look = look;
    this.answers = new Map(answers.map((answer) => [answer.check, answer]));
    this.media = media;
    this.readToday = readToday;
    this.changed = changed;
    this.last = null; // the answer just given, which can be undone
    this.trouble = "";
  }

  get checks() {
    return checks.chosen(this.visit, this.look, this.answers);
  }

  answer(code) {
    return this.answers.get(code) ?? blank(this.look.id, code);
  }

  mediaAt(code) {
    return this.media.filter((one) => one.check === code);
  }

  // Show the change at once, and keep it; if it cannot be kept, take it back and say so.
  async keep(undo, write, ifFull = FULL) {
    this.trouble = "";
    this.changed();
    try {
      await write();
    } catch (error) {
      undo();
      this.trouble = store.isFull(error)
        ? ifFull
        : `The last tap was not kept on this phone (${error.message}). Tap again.`;
      this.changed();
    }
  }

  change(change) {
    const before = this.look;
    this.look = { ...before, ...change };
    return this.keep(() => (this.look = before), () => store.putLook(this.look));
  }

  go(at) {
    this.last = null;
    return this.change({ at });
  }

  // A note, a measure or how sure: it stays on the same check.
  say(code, change) {
    const back = this.wayBack(code);
    const after = { ...this.answer(code), ...change, at: new Date().toISOString() };
    this.answers.set(code, after);
    return this.keep(back, () => store.putAnswer(after, this.look));
  }

  // A level, a reason or "she has none": kept, and the next check comes by itself.
  settle(code, change) {
    const back = this.wayBack(code);
    const before = this.answers.get(code);
    const after = { ...this.answer(code), level: null, reason: "", ...change, at: new Date().toISOString() };
    this.answers.set(code, after);
    this.last = { code, before };
    this.look = { ...this.look, at: this.following(code), refusal: this.refusalWithout(code) };
    return this.keep(back, () => store.putAnswer(after, this.look));
  }

  undo() {
    const { code, before } = this.last;
    const back = this.wayBack(code);
    this.last = null;
    this.restore(code, before);
    this.look = { ...this.look, at: { step: "check", check: code } };
    return this.keep(back, () =>
      before
        ? store.putAnswer(before, this.look)
        : store.removeAnswer({ look: this.look.id, check: code }, this.look),
    );
  }

  // Take an answer away: the check is open again.
  clear(code) {
    const back = this.wayBack(code);
    this.answers.delete(code);
    this.look = { ...this.look, refusal: this.refusalWithout(code) };
    return this.keep(back, () => store.removeAnswer({ look: this.look.id, check: code }, this.look));
  }

  // Puts back what a change that is not kept has changed.
  wayBack(code) {
    const { look, last } = this;
    const answer = this.answers.get(code);
    return () => {
      Object.assign(this, { look, last });
      this.restore(code, answer);
    };
  }

  restore(code, answer) {
    if (answer) this.answers.set(code, answer);
    else this.answers.delete(code);
  }

  following(code) {
    const next = checks.nextOpen(this.checks, this.answers, code);
    return next ? { step: "check", check: next.code } : { step: "ending" };
  }

  previous(code) {
    const all = this.checks;
    const at = all.findIndex((check) => check.code === code);
    return at > 0 ? { step: "check", check: all[at - 1].code } : { step: "time" };
  }

  skip(code) {
    const skipped = [...new Set([...this.look.skipped, code])];
    this.last = null;
    return this.change({ skipped, at: this.following(code) });
  }

  // --- Cautions: read once for each place and day ---

  unread(place) {
    return checks
      .cautionsAt(this.checks, place)
      .filter(({ code }) => !this.hasRead(`${place}:${code}`));
  }

  hasRead(key) {
    return this.look.read.includes(key) || this.readToday.has(key);
  }

  read(place) {
    const keys = checks.cautionsAt(this.checks, place).map(({ code }) => `${place}:${code}`);
    return this.change({ read: [...new Set([...this.look.read, ...keys])] });
  }

  // --- Photos and recordings ---

  async addMedium(code, kind, blob, purpose = "") {
    const row = {
      id: newId(), look: this.look.id, check: code, kind, blob, purpose, name: blob.name ?? "",
    };
    const before = this.media;
    this.media = [...before, row];
    await this.keep(() => (this.media = before), () => store.putMedium(row), NO_ROOM);
  }

  async removeMedium(id) {
    const before = this.media;
    this.media = before.filter((one) => one.id !== id);
    await this.keep(() => (this.media = before), () => store.removeMedium(id));
  }

  // --- What was refused ---

  // The errors at a check, by the pointers of the refusal into what was sent.
  refusedAt(code) {
    return errorsOf(this.look).filter((error) => error.check === code).map((error) => error.detail);
  }

  refusedElsewhere() {
    const { refusal } = this.look;
    if (!refusal) return [];
    const errors = errorsOf(this.look);
    if (!errors.length && !refusal.settled) return [refusal.detail];
    return errors.filter((error) => !error.check).map((error) => error.detail);
  }

  refusalWithout(code) {
    const { refusal } = this.look;
    if (!refusal?.errors) return refusal;
    const settled = [...(refusal.settled ?? []), code];
    return { ...refusal, settled };
  }
}

function errorsOf(look) {
  const { refusal, body } = look;
  return (refusal?.errors ?? [])
    .map(({ pointer, detail }) => {
      const [, index] = pointer.match(/\/findings\/(\d+)/) ?? [];
      return { detail, check: index === undefined ? null : body.findings[index]?.checkpoint };
    })
    .filter(({ check }) => !check || !refusal.settled?.includes(check));
}
