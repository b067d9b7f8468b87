// The microphone: one recording at a time, its level while it runs, a file at its end.
// Knows no page; `take-form.js` shows what it tells.

import { wavFile } from "./wav.js";

// Whatever a phone does to make speech clearer spoils tone: all of it off.
const PLAIN_SOUND = {
  channelCount: { ideal: 1 },
  echoCancellation: false,
  noiseSuppression: false,
  autoGainControl: false,
};
// Pieces are gathered into blobs of about this many bytes, which the browser may move out of memory.
const GATHER_BYTES = 1 << 20;

export class Recorder {
  // `tell` gets {seconds, peak} about twelve times a second; `ended` runs when the recording stops by itself.
  constructor({ limitSeconds, tell, ended }) {
    Object.assign(this, { limitSeconds, tell, ended, running: false });
  }

  static get possible() {
    return Boolean(navigator.mediaDevices?.getUserMedia && window.AudioWorkletNode);
  }

  async start() {
    this.stream = await navigator.mediaDevices.getUserMedia({ audio: PLAIN_SOUND });
    try {
      this.context = new AudioContext();
      await this.context.audioWorklet.addModule(new URL("./worklet.js", import.meta.url));
      await this.context.resume();
    } catch (error) {
      await this.release();
      throw error;
    }
    Object.assign(this, { pieces: [], loose: [], looseBytes: 0, count: 0, running: true });
    this.rate = this.context.sampleRate;
    this.tap = new AudioWorkletNode(this.context, "tap", { numberOfOutputs: 0 });
    this.tap.port.onmessage = ({ data }) => this.take(data);
    this.context.createMediaStreamSource(this.stream).connect(this.tap);
    this.stream.getAudioTracks()[0].addEventListener("ended", () => this.running && this.ended("microphone"));
    // A telephone call suspends the sound on some phones; go on when it is over.
    this.context.addEventListener("statechange", () => {
      if (this.running && this.context.state === "suspended") this.context.resume();
    });
  }

  take({ samples, peak, end }) {
    if (end) {
      this.flushed?.();
      return;
    }
    this.loose.push(samples);
    this.looseBytes += samples.byteLength;
    this.count += samples.length;
    if (this.looseBytes >= GATHER_BYTES) this.gather();
    const seconds = this.count / this.rate;
    if (!this.running) return;
    this.tell({ seconds, peak });
    if (seconds >= this.limitSeconds) this.ended("limit");
  }

  gather() {
    this.pieces.push(new Blob(this.loose));
    this.loose = [];
    this.looseBytes = 0;
  }

  // Stops and returns {file, seconds}; the samples still on their way are waited for.
  async stop() {
    this.running = false;
    await Promise.race([
      new Promise((done) => {
        this.flushed = done;
        this.tap.port.postMessage("end");
      }),
      new Promise((done) => setTimeout(done, 500)),
    ]);
    this.gather();
    await this.release();
    return { file: wavFile(this.pieces, this.count, this.rate), seconds: this.count / this.rate };
  }

  async release() {
    this.stream.getTracks().forEach((track) => track.stop());
    await this.context?.close();
  }
}
