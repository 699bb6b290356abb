// Sends chosen pictures one by one, and shows those on a page larger.

import { newId, noticeOf, send } from "./api.js";

const PATIENCE_MS = 120_000;
const ids = new WeakMap(); // by file: sent again it is the same picture

// Send each file as a form of its own with these fields. Throws what the API refuses.
export async function sendFiles(form, files, path, fields) {
  for (const [n, file] of [...files].entries()) {
    noticeOf(form).textContent = `Sending ${n + 1} of ${files.length} …`;
    if (!ids.has(file)) ids.set(file, newId());
    const body = new FormData();
    for (const [name, value] of Object.entries({ id: ids.get(file), ...fields })) body.set(name, value);
    body.set("file", file);
    await send("POST", path, body, { key: ids.get(file), patienceMs: PATIENCE_MS });
  }
  noticeOf(form).replaceChildren();
}

// --- Larger: without this script each picture is a link to itself -------------------------------

for (const list of document.querySelectorAll(".photos")) {
  const links = [...list.querySelectorAll("a:has(img)")];
  links.forEach((link, at) =>
    link.addEventListener("click", (event) => {
      event.preventDefault();
      show(links, at);
    }),
  );
}

function show(links, from) {
  const dialog = document.createElement("dialog");
  dialog.className = "larger";
  const picture = document.createElement("img");
  const words = document.createElement("p");
  let at = from;
  const turn = (by) => {
    at = (at + by + links.length) % links.length;
    picture.src = links[at].href;
    picture.alt = links[at].querySelector("img").alt;
    words.textContent = `${at + 1} of ${links.length}: ${links[at].parentElement.querySelector(".note").textContent}`;
    dialog.setAttribute("aria-label", picture.alt);
  };
  const row = document.createElement("div");
  row.className = "actions";
  if (links.length > 1) row.append(button("Previous", () => turn(-1)), button("Next", () => turn(1)));
  row.append(button("Close", () => dialog.close()));
  dialog.append(picture, words, row);
  dialog.addEventListener("keydown", ({ key }) => {
    if (key === "ArrowLeft") turn(-1);
    if (key === "ArrowRight") turn(1);
  });
  dialog.addEventListener("close", () => {
    dialog.remove();
    links[at].focus();
  });
  document.body.append(dialog);
  turn(0);
  dialog.showModal();
}

function button(words, press) {
  const made = document.createElement("button");
  made.type = "button";
  made.textContent = words;
  made.addEventListener("click", press);
  return made;
}
