// <button data-copy="ID"> copies what stands in that field.

for (const button of document.querySelectorAll("[data-copy]")) {
  button.hidden = false;
  button.addEventListener("click", async () => {
    const field = document.getElementById(button.dataset.copy);
    field.select();
    // Over plain HTTP there is no clipboard: the selected text can be copied by hand.
    const copied = await navigator.clipboard?.writeText(field.value).then(() => true, () => false);
    const status = document.querySelector(`[data-copied="${button.dataset.copy}"]`);
    status.textContent = copied ? "Copied" : "The text is selected: copy it";
  });
}
