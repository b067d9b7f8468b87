// Beside the sound card: plays what has come, asks for what is missing. Its clock is the only one.

const ASK = 384; // samples at least in one question: 8 ms at 48 kHz
const FADE = 96; // samples: 2 ms
const READY_MS = 16; // held ready at first; grows by a step with every gap, shrinks again when all goes well
const STEP_MS = 4;
const MOST_MS = 80;
const CALM_S = 2;
const TELL_S = 0.25;

class Bow extends AudioWorkletProcessor {
  constructor() {
    super();
    this.pieces = []; // {samples, read, stamp}
    this.held = 0;
    this.asked = 0;
    this.target = Math.round((READY_MS * sampleRate) / 1000);
    this.active = false;
    this.playing = false;
    this.level = 0; // of the fade
    this.last = 0;
    this.gaps = 0;
    this.calmSince = 0;
    this.toldAt = 0;
    this.least = Infinity;
    this.marks = [];
    this.port.onmessage = ({ data }) => {
      this.stream = data.port;
      this.stream.onmessage = (event) => this.take(event.data);
    };
  }

  take(message) {
    if (message.active !== undefined) {
      this.active = message.active;
      if (message.fresh) this.pieces.length = this.held = this.asked = 0;
      return;
    }
    const samples = new Float32Array(message.samples, 8);
    this.asked = Math.max(0, this.asked - samples.length);
    this.pieces.push({ samples, read: 0, stamp: message.stamp });
    this.held += samples.length;
  }

  process(inputs, outputs) {
    const out = outputs[0][0];
    // Playing begins when half of the ready sound is there, and goes on until none is left.
    if (!this.playing && this.held >= this.target / 2) this.playing = true;
    if (this.playing && this.held < out.length) {
      this.playing = false;
      if (this.active) this.gap();
    }
    this.fill(out);
    this.least = Math.min(this.least, this.held);
    const missing = this.target - this.held - this.asked;
    if (this.active && this.stream && missing >= ASK) {
      this.asked += missing;
      this.stream.postMessage({ ask: missing });
    }
    this.tell();
    return true;
  }

  fill(out) {
    for (let i = 0; i < out.length; i++) {
      const piece = this.playing || this.level > 0 ? this.pieces[0] : undefined;
      if (this.playing && piece) {
        if (piece.read === 0 && piece.stamp !== null) {
          this.marks.push({ stamp: piece.stamp, at: currentTime + i / sampleRate, wall: Date.now() });
        }
        this.last = piece.samples[piece.read++];
        this.held--;
        if (piece.read === piece.samples.length) this.pieces.shift();
        this.level = Math.min(1, this.level + 1 / FADE);
      } else this.level = Math.max(0, this.level - 1 / FADE); // the last value sinks away: no click
      out[i] = this.last * this.level;
    }
  }

  gap() {
    this.gaps++;
    this.calmSince = currentTime;
    this.least = Infinity;
    this.target = Math.min(this.target + (STEP_MS * sampleRate) / 1000, (MOST_MS * sampleRate) / 1000);
  }

  // Once in a while: what was played when, and whether less could be held ready.
  tell() {
    if (currentTime - this.toldAt < TELL_S) return;
    this.toldAt = currentTime;
    this.port.postMessage({ marks: this.marks, gaps: this.gaps, ready: (1000 * this.target) / sampleRate });
    this.marks = [];
    if (!this.playing || currentTime - this.calmSince < CALM_S) return;
    // Half of what was never needed in this while is given up.
    const spare = this.least - (STEP_MS * sampleRate) / 1000;
    if (spare > 0) this.target = Math.max(this.target - Math.ceil(spare / 2), (READY_MS * sampleRate) / 1000);
    this.calmSince = currentTime;
    this.least = Infinity;
  }
}

registerProcessor("bow", Bow);
