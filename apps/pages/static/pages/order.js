// The reader's order of the boats: moved by buttons or dragged by a handle, then sent as a ballot.

import { clearRefusal, noticeOf, Refused, send, showRefusal } from "./api.js";

for (const form of document.querySelectorAll("form[data-order]")) {
  const list = form.querySelector("ol");
  noticeOf(form);
  list.addEventListener("click", (event) => moveByButton(form, event));
  list.addEventListener("pointerdown", (event) => drag(form, event));
  form.addEventListener("submit", (event) => keep(form, event));
}

function moveByButton(form, event) {
  const button = event.target.closest("[data-move]");
  if (!button) return;
  const item = button.closest("li");
  if (button.dataset.move === "1") item.nextElementSibling?.after(item);
  else item.previousElementSibling?.before(item);
  button.focus();
  say(form, item);
}

// By pointer events, for a mouse, a pen and a finger alike.
function drag(form, event) {
  const handle = event.target.closest("[data-handle]");
  if (!handle) return;
  event.preventDefault();
  const item = handle.closest("li");
  const list = item.parentElement; // holds the pointer, for an item that is moved lets go of it
  const move = ({ clientY }) => {
    const over = [...list.children].find((one) => {
      const { top, bottom } = one.getBoundingClientRect();
      return one !== item && clientY > top && clientY < bottom;
    });
    if (!over) return;
    const { top, height } = over.getBoundingClientRect();
    if (clientY < top + height / 2) over.before(item);
    else over.after(item);
  };
  const end = () => {
    list.removeEventListener("pointermove", move);
    item.classList.remove("held");
    say(form, item);
  };
  item.classList.add("held");
  list.setPointerCapture(event.pointerId);
  list.addEventListener("pointermove", move);
  list.addEventListener("pointerup", end, { once: true });
  list.addEventListener("pointercancel", end, { once: true });
}

function say(form, item) {
  const place = [...item.parentElement.children].indexOf(item) + 1;
  const name = item.querySelector("[data-name]").textContent;
  form.querySelector("[data-moved]").textContent = `${name} is at place ${place}, not kept yet.`;
}

// Best first, ties side by side; boats left out are not ranked.
function ranksOf(form) {
  const ranks = [];
  for (const item of form.querySelectorAll("li")) {
    if (item.querySelector("[data-out]").checked) continue;
    const level = item.querySelector("[data-level]").checked && ranks.length;
    if (level) ranks.at(-1).push(item.dataset.boat);
    else ranks.push([item.dataset.boat]);
  }
  return ranks;
}

async function keep(form, event) {
  event.preventDefault();
  if (form.ariaBusy === "true") return;
  form.ariaBusy = "true";
  clearRefusal(form);
  const [method, path] = form.dataset.order.split(" ");
  try {
    await send(method, path, { ranks: ranksOf(form) }, { etag: form.dataset.etag });
    location.reload();
  } catch (refused) {
    if (!(refused instanceof Refused)) throw refused;
    showRefusal(form, refused);
  } finally {
    form.ariaBusy = "false";
  }
}
