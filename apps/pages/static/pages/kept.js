// A form that stays on its page says that it was kept, and the next change is made to that version.

document.addEventListener("sent", ({ target: form, detail: data }) => {
  const said = form.querySelector("[data-kept]");
  if (!said) return;
  form.dataset.etag = `"${data.id}-${data.version}"`;
  said.textContent = "Kept.";
  form.addEventListener("input", () => (said.textContent = ""), { once: true });
});
