// Sends every <form data-api="METHOD /path"> to the API as JSON (see apps/pages/__init__.py).

import { clearRefusal, newId, noticeOf, Refused, send, showRefusal } from "./api.js";
import { sendFiles } from "./photos.js";

for (const form of document.querySelectorAll("form[data-api]")) noticeOf(form);

// Such a field shows the time of this device, whatever the zone in which the page was written.
for (const field of document.querySelectorAll("input[data-at]")) {
  const at = new Date(field.dataset.at);
  field.value = new Date(at - at.getTimezoneOffset() * 60_000).toISOString().slice(0, 16);
}

document.addEventListener("submit", async (event) => {
  const form = event.target;
  if (!form.dataset.api) return;
  event.preventDefault();
  if (form.ariaBusy === "true") return; // sent already, and not answered yet
  form.ariaBusy = "true";
  clearRefusal(form);
  try {
    await sendForm(form);
  } catch (refused) {
    if (!(refused instanceof Refused)) throw refused;
    showRefusal(form, refused);
  } finally {
    form.ariaBusy = "false";
  }
});

async function sendForm(form) {
  const [method, path] = form.dataset.api.split(" ");
  const body = method === "DELETE" ? undefined : bodyOf(form);
  const pictures = form.querySelector("input[type=file]");
  if (pictures?.name) {
    await sendFiles(form, pictures.files, path, body);
    return location.reload();
  }
  const key = keyFor(form, JSON.stringify(body));
  const { data } = await send(method, path, body, { etag: form.dataset.etag, key });
  if (pictures) await sendFiles(form, pictures.files, filled(pictures.dataset.to, data), { source: "advert" });
  if (form.dataset.also) await sendAlso(form.dataset.also, data);
  form.dispatchEvent(new CustomEvent("sent", { bubbles: true, detail: data }));
  if (form.dataset.then === "stay") return;
  if (form.dataset.then) location.assign(filled(form.dataset.then, data));
  else location.reload();
}

// What is asked of the thing just made. If that fails, its page offers it again.
async function sendAlso(also, made) {
  const [method, path] = also.split(" ");
  await send(method, filled(path, made)).catch((refused) => {
    if (!(refused instanceof Refused)) throw refused;
  });
}

// The same content sent again is the same request; another content is another one.
function keyFor(form, content) {
  if (form.dataset.keyFor !== content) {
    form.dataset.keyFor = content;
    form.dataset.key = newId();
  }
  return form.dataset.key;
}

function filled(path, data) {
  return path.replace(/\{(\w+)\}/g, (_, name) => encodeURIComponent(data[name]));
}

// What the fields of a form say, under the names of the API.
export function bodyOf(form) {
  const body = {};
  for (const field of form.elements) {
    if (!field.name || field.disabled || field.name === "csrfmiddlewaretoken") continue;
    if (field.dataset.type === "currency") continue; // goes with the amount that names it
    if (field.dataset.type === "list") {
      put(body, field.name, ticked(form, field.name, field.dataset.of));
      continue;
    }
    const value = valueOf(field);
    if (value === undefined) continue;
    put(body, field.name, value);
    const currency = currencyOf(field);
    if (currency) put(body, field.name.replace(/amount$/, "currency"), currency);
  }
  return body;
}

// An amount takes its currency along: a fixed one, or that of another field.
function currencyOf(field) {
  const { currency, currencyOf: other } = field.dataset;
  return other ? field.form.elements[other].value : currency;
}

// of: each is an object with this one name.
function ticked(form, name, of) {
  const boxes = [...form.elements].filter((one) => one.name === name && one.checked);
  return boxes.map((box) => (of ? { [of]: box.value, ...beside(box) } : box.value));
}

// What a field without a name says of the same object: data-beside="until=ID of the field".
function beside(box) {
  const [name, id] = box.dataset.beside?.split("=") ?? [];
  const value = name && valueOf(document.getElementById(id));
  return value === undefined ? {} : { [name]: value };
}

// undefined: nothing to say.
function valueOf(field) {
  if (field.type === "checkbox") return field.checked;
  if (["submit", "button", "file"].includes(field.type)) return undefined;
  if (field.type === "radio" && !field.checked) return undefined;
  const text = field.type === "password" ? field.value : field.value.trim();
  if (text === "") return { null: null, text: "" }[field.dataset.empty];
  if (field.dataset.type === "number") return Number(text);
  if (field.dataset.type === "boolean") return text === "true";
  if (field.dataset.type === "percent") return String(Number((Number(text) / 100).toFixed(6)));
  if (field.dataset.type === "time") return new Date(text).toISOString(); // it has no zone itself
  return text;
}

// A part of a name that is a number is a place in a list: "shares.0.person".
function put(body, name, value) {
  const parts = name.split(".");
  const last = parts.pop();
  let inside = body;
  parts.forEach((part, at) => {
    inside = inside[part] ??= /^\d+$/.test(parts[at + 1] ?? last) ? [] : {};
  });
  inside[last] = value;
}

// --- Parts of a form that only some answers need: data-unless="name=value,other value" --------

function showParts(form) {
  for (const part of form.querySelectorAll("[data-unless]")) {
    const [name, values] = part.dataset.unless.split("=");
    part.hidden = values.split(",").includes(form.elements[name].value);
    for (const field of part.querySelectorAll("input, select, textarea")) field.disabled = part.hidden;
  }
}

for (const form of document.querySelectorAll("form[data-api]")) showParts(form);
document.addEventListener("change", (event) => event.target.form && showParts(event.target.form));

// A new account takes over the clock of the device that it is made on.
for (const field of document.querySelectorAll("[data-own-zone]")) {
  field.value = Intl.DateTimeFormat().resolvedOptions().timeZone;
}
