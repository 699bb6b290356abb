// The clock of this phone against that of the service.

// As the service takes it: a request may take this long, and a clock set by hand is no better.
const TOLERATED_S = 120;

// By how many seconds this phone is ahead of the moment that the service has just named.
export function aheadOf(moment, now = Date.now()) {
  const seconds = (now - Date.parse(moment)) / 1000;
  return Math.abs(seconds) > TOLERATED_S ? seconds : 0;
}

// "The clock of this phone is 3 hours ahead."; nothing if it is about right.
export function clockInWords(seconds) {
  if (!seconds) return "";
  const minutes = Math.round(Math.abs(seconds) / 60);
  const off = minutes < 90 ? `${minutes} minutes` : `${Math.round(minutes / 60)} hours`;
  return `The clock of this phone is ${off} ${seconds > 0 ? "ahead" : "behind"}.`;
}
