// A form that stays on its page says that it was kept, and the next change is made to that version.

document.addEventListener("sent", ({ target: form, detail: data }) => {
  const status = form.querySelector("[data-kept]");
  if (!status) return;
  form.dataset.etag = `"${data.id}-${data.version}"`;
  status.textContent = "Kept.";
  form.addEventListener("input", () => (status.textContent = ""), { once: true });
});
