// All that pages write goes through this module to the service's public API.

const ROOT = "/api/v1";

// What the API refused, as problem details (RFC 9457). Status 0: nobody answered.
export class Refused extends Error {
  constructor(status, problem, waitS = 0) {
    super(problem.detail);
    this.status = status;
    this.problem = problem;
    this.waitS = waitS; // as the service asks for before the next try
  }
}

// Send one request; gives {status, etag, data} or throws `Refused`.
// body: an object, sent as JSON; a FormData, sent as it is; or undefined.
// etag: of what is changed, as it was read. key: the same for a repeat of the same request.
// held: the ETag of what is already at hand; if that is still so, `status` is 304.
// patienceMs: give up after that; the service may have carried out what it did not answer.
export async function send(method, path, body, { etag, held, key = newId(), patienceMs } = {}) {
  const headers = { Accept: "application/json", "X-CSRFToken": cookie("csrftoken") };
  if (etag) headers["If-Match"] = etag;
  if (held) headers["If-None-Match"] = held;
  if (method === "POST") headers["Idempotency-Key"] = key;
  if (body !== undefined && !(body instanceof FormData)) {
    headers["Content-Type"] = "application/json";
    body = JSON.stringify(body);
  }
  const signal = patienceMs ? AbortSignal.timeout(patienceMs) : undefined;
  let answer, data;
  try {
    answer = await fetch(ROOT + path, { method, headers, body, signal, credentials: "same-origin" });
    data = await read(answer);
  } catch {
    throw new Refused(0, { detail: "There is no connection to the service: try again." });
  }
  if (!answer.ok && answer.status !== 304) {
    const waitS = Number(answer.headers.get("Retry-After")) || 0;
    throw new Refused(answer.status, data ?? { detail: answer.statusText }, waitS);
  }
  return { status: answer.status, etag: answer.headers.get("ETag"), data };
}

async function read(answer) {
  const type = answer.headers.get("Content-Type") ?? "";
  return type.includes("json") ? answer.json() : null;
}

function cookie(name) {
  const found = document.cookie.split("; ").find((one) => one.startsWith(`${name}=`));
  return found ? decodeURIComponent(found.slice(name.length + 1)) : "";
}

// A UUIDv7 (RFC 9562 section 5.7), as the API takes them from clients. `crypto.randomUUID` makes
// none, and is not there over plain HTTP.
export function newId() {
  const bytes = crypto.getRandomValues(new Uint8Array(16));
  let time = Date.now();
  for (let at = 5; at >= 0; at -= 1) {
    bytes[at] = time % 256;
    time = Math.floor(time / 256);
  }
  bytes[6] = (bytes[6] & 0x0f) | 0x70;
  bytes[8] = (bytes[8] & 0x3f) | 0x80;
  const hex = [...bytes].map((byte) => byte.toString(16).padStart(2, "0")).join("");
  return hex.replace(/^(.{8})(.{4})(.{4})(.{4})/, "$1-$2-$3-$4-");
}

// --- Refusals, shown where they belong ---------------------------------------------------------

// Show each error beside the field that its pointer names, and everything else on top.
export function showRefusal(form, refused) {
  clearRefusal(form);
  const { errors = [], detail } = refused.problem;
  const misplaced = [];
  let first = null;
  for (const error of errors) {
    const field = fieldAt(form, error.pointer);
    if (field) {
      complain(field, error.detail);
      first ??= field;
    } else {
      misplaced.push(error.detail);
    }
  }
  const messages = errors.length ? misplaced : [detail];
  if (refused.status === 401) messages.push("Sign in again in another tab; what you typed stays here.");
  if (refused.status === 412) messages.push("Load this page again to see it as it is now.");
  if (messages.length) noticeOf(form).append(...messages.map((text) => paragraph(text)));
  first?.focus();
}

export function clearRefusal(form) {
  noticeOf(form).replaceChildren();
  for (const field of form.querySelectorAll("[aria-invalid]")) {
    field.removeAttribute("aria-invalid");
    const mark = errorId(field);
    document.getElementById(mark)?.remove();
    const left = describedBy(field).filter((id) => id !== mark);
    field.setAttribute("aria-describedby", left.join(" "));
  }
}

// The place above a form where it is said what does not belong to a field; read out when it changes.
export function noticeOf(form) {
  let notice = form.querySelector("[data-notice]");
  if (!notice) {
    notice = document.createElement("div");
    notice.dataset.notice = "";
    notice.setAttribute("role", "alert");
    form.prepend(notice);
  }
  return notice;
}

// "/brief/budget/amount" is the field "brief.budget.amount", or one that lies in it or around it; of
// a line of a list, such as "/weights/2/person", one that the form asks of the same line.
function fieldAt(form, pointer) {
  const coded = pointer.replace(/^[/?]/, "").split("/");
  const parts = coded.map((part) => part.replaceAll("~1", "/").replaceAll("~0", "~"));
  const name = parts.join(".");
  const fields = [...form.elements].filter((field) => field.name && field.type !== "hidden");
  const line = name.match(/^.+\.\d+\./)?.[0];
  return (
    fields.find((field) => field.name === name) ??
    tickedAt(fields, parts) ??
    (name && fields.find((field) => field.name.startsWith(`${name}.`))) ??
    fields.find((field) => name.startsWith(`${field.name}.`)) ??
    (line && fields.find((field) => field.name.startsWith(line)))
  );
}

// "/conditions/1/until" is of the second box that is ticked: the field beside it, or the box.
function tickedAt(fields, parts) {
  const ticked = fields.filter((field) => field.dataset.type === "list" && field.checked);
  for (const at of parts.keys()) {
    const list = parts.slice(0, at).join(".");
    const box = ticked.filter((field) => field.name === list)[parts[at]];
    const [name, id] = box?.dataset.beside?.split("=") ?? [];
    if (box) return name === parts[at + 1] ? document.getElementById(id) : box;
  }
}

function complain(field, text) {
  const shown = document.getElementById(errorId(field));
  if (shown) {
    shown.textContent += ` ${text}`;
    return;
  }
  const complaint = paragraph(text);
  complaint.id = errorId(field);
  complaint.className = "error";
  (field.closest("label") ?? field).after(complaint);
  field.setAttribute("aria-invalid", "true");
  field.setAttribute("aria-describedby", [...describedBy(field), complaint.id].join(" "));
}

function describedBy(field) {
  return (field.getAttribute("aria-describedby") ?? "").split(" ").filter(Boolean);
}

function errorId(field) {
  return `error-${field.id || field.name}`;
}

function paragraph(text) {
  const made = document.createElement("p");
  made.textContent = text;
  return made;
}
