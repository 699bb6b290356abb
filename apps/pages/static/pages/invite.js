// Shows the link of an invitation just made: its token is shown only this once.

document.addEventListener("sent", (event) => {
  const form = event.target;
  const place = document.getElementById(form.dataset.shows ?? "");
  if (!place) return;
  const path = `/join/${event.detail.token}`;
  const link = place.dataset.begins + path;
  place.querySelector("output").textContent = link;
  place.querySelector("img").src = `${path}/qr.svg`;
  place.hidden = false;
  place.focus();
  const share = place.querySelector("[data-share]");
  share.hidden = !navigator.share;
  share.onclick = () => navigator.share({ text: place.dataset.words, url: link }).catch(() => {});
  const copy = place.querySelector("[data-copy]");
  copy.hidden = !navigator.clipboard;
  copy.onclick = async () => {
    await navigator.clipboard.writeText(link);
    copy.textContent = "Copied";
  };
});
