// Runs beside the page and passes on what the microphone hears.
class Recorder extends AudioWorkletProcessor {
  process([[channel]]) {
    if (channel) this.port.postMessage(channel.slice());
    return true;
  }
}
registerProcessor("recorder", Recorder);
