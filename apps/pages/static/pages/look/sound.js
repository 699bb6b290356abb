// Taps on a laminate, recorded as the API takes them: WAV, one channel, not longer than 30 s.

import { html, nothing } from "../vendor/lit-html-3.3.3.js";

const LONGEST_S = 29;
let recording = null; // {stop, code, purpose, since}

export function soundPart(session, check, ui) {
  const sounds = session.mediaAt(check.code).filter((one) => one.kind === "sound" && one.blob);
  const names = { check: "Taps here", reference: "Taps on a sound place" };
  return html`<section class="sounds" aria-label="Recording of taps">
    <p>Tap lightly, with the owner's leave, twice a second, the phone still and a hand away. Record a
      place that is surely sound as well: the two are compared.</p>
    ${sounds.map(
      (one, n) => html`<p>${names[one.purpose]}, recording ${n + 1}
        <audio controls src=${ui.address(one)}></audio>
        <button type="button" @click=${() => session.removeMedium(one.id)}>Remove recording ${n + 1}</button></p>`,
    )}
    ${recording
      ? html`<p role="status">Recording …</p><button type="button" class="main" @click=${() => recording.stop()}>Stop</button>`
      : window.isSecureContext
        ? html`<div class="options">${Object.entries(names).map(
            ([purpose, name]) => html`<button type="button" @click=${() => record(session, check, purpose, ui)}>Record: ${name}</button>`,
          )}</div>`
        : html`<p class="quiet">Recording needs a secure connection (https).</p>`}
    ${sounds.length && session.answer(check.code).kind !== "looked"
      ? html`<p class="quiet">A recording is sent with a level: choose one above.</p>`
      : nothing}
  </section>`;
}

async function record(session, check, purpose, ui) {
  let stream;
  try {
    stream = await navigator.mediaDevices.getUserMedia({
      audio: { echoCancellation: false, noiseSuppression: false, autoGainControl: false },
    });
  } catch {
    return ui.say("The microphone cannot be used. Allow it for this page in the browser's settings.");
  }
  const context = new AudioContext();
  await context.audioWorklet.addModule(new URL("recorder.js", import.meta.url));
  const node = new AudioWorkletNode(context, "recorder");
  const parts = [];
  node.port.onmessage = (event) => parts.push(event.data);
  context.createMediaStreamSource(stream).connect(node);
  const stop = async () => {
    clearTimeout(timer);
    recording = null;
    for (const track of stream.getTracks()) track.stop();
    await context.close();
    await session.addMedium(check.code, "sound", wav(parts, context.sampleRate), purpose);
  };
  const timer = setTimeout(stop, LONGEST_S * 1000);
  recording = { stop };
  ui.draw();
}

// RIFF WAVE with 16-bit linear PCM.
export function wav(parts, rate) {
  const count = parts.reduce((sum, part) => sum + part.length, 0);
  const view = new DataView(new ArrayBuffer(44 + count * 2));
  const text = (at, letters) => [...letters].forEach((one, n) => view.setUint8(at + n, one.charCodeAt(0)));
  text(0, "RIFF");
  view.setUint32(4, 36 + count * 2, true);
  text(8, "WAVEfmt ");
  view.setUint32(16, 16, true);
  view.setUint16(20, 1, true); // PCM
  view.setUint16(22, 1, true); // channels
  view.setUint32(24, rate, true);
  view.setUint32(28, rate * 2, true);
  view.setUint16(32, 2, true);
  view.setUint16(34, 16, true);
  text(36, "data");
  view.setUint32(40, count * 2, true);
  let at = 44;
  for (const part of parts) {
    for (const sample of part) {
      view.setInt16(at, Math.max(-1, Math.min(1, sample)) * 32767, true);
      at += 2;
    }
  }
  return new Blob([view], { type: "audio/wav" });
}
