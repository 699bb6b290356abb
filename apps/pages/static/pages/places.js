// Fills a place on the map in: from a yard, or from where this device is. A part with [data-place].

for (const part of document.querySelectorAll("[data-place]")) {
  const fields = ["latitude", "longitude"].map((name) => part.querySelector(`[name$="${name}"]`));
  const fill = (...degrees) => fields.forEach((field, at) => (field.value = degrees[at]));

  for (const one of part.querySelectorAll("[data-scripted]")) {
    one.hidden = Boolean(one.querySelector("[data-here]")) && !(isSecureContext && navigator.geolocation);
  }
  part.querySelector("[data-take-from]")?.addEventListener("change", ({ target }) => {
    const { latitude, longitude } = target.selectedOptions[0].dataset;
    if (latitude) fill(latitude, longitude);
  });
  part.querySelector("[data-here]").addEventListener("click", () => {
    const said = part.querySelector("[data-here-said]");
    said.textContent = "Asking this device where it is …";
    navigator.geolocation.getCurrentPosition(
      ({ coords }) => {
        fill(coords.latitude.toFixed(5), coords.longitude.toFixed(5));
        said.textContent = "Taken.";
      },
      () => (said.textContent = "This device does not say where it is: fill the degrees in."),
      { timeout: 20_000 },
    );
  });
}
