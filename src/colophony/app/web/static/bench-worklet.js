// Beside the sound card: plays what has come, asks for what is missing. Its clock is the only one.

const ASK = 256; // samples at least in one question: 5 ms at 48 kHz
const FADE = 96; // samples in which sound sets in: 2 ms
const ECHO = 240; // samples in which it goes where none came: 5 ms
const READY_MS = 48; // held ready at first; grows by a step with every gap, shrinks slowly when all goes well
const STEP_MS = 4;
const USUAL_MS = 52; // one gap by itself asks for no more: the hand shall be heard within 60 ms
const MOST_MS = 80; // gaps soon after each other do: the computer is busy
const SOON_S = 10;
const CALM_S = 5;
const SPARE_MS = 10; // what must never have been needed before less is held
const TELL_S = 0.25;

const samplesIn = (ms) => Math.round((ms * sampleRate) / 1000);

class Bow extends AudioWorkletProcessor {
  constructor() {
    super();
    this.pieces = []; // {samples, read, stamps}
    this.held = 0;
    this.asked = 0;
    this.target = samplesIn(READY_MS);
    this.active = false;
    this.playing = false;
    this.level = 0; // of the sound, while it sets in
    this.past = new Float32Array(ECHO); // what was played last, in a ring
    this.at = 0; // its newest sample
    this.echo = 0; // level of the past, played backwards
    this.back = 0;
    this.gaps = 0;
    this.gapAt = -Infinity;
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
    this.pieces.push({ samples, read: 0, stamps: message.stamps });
    this.held += samples.length;
  }

  process(inputs, outputs) {
    const out = outputs[0][0];
    // Playing begins when half of the ready sound is there, and goes on until none is left.
    if (!this.playing && this.held >= this.target / 2) this.playing = true;
    if (this.playing && this.held < out.length) {
      this.playing = false;
      [this.echo, this.back, this.level] = [this.level, this.at, 0];
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

  // Where no sound is left, the last of it is heard backwards and sinks away: that joins on without a click.
  fill(out) {
    for (let i = 0; i < out.length; i++) {
      let value = 0;
      if (this.playing) {
        const piece = this.pieces[0];
        if (piece.read === 0) {
          for (const stamp of piece.stamps) this.marks.push({ stamp, at: currentTime + i / sampleRate, wall: Date.now() });
        }
        this.at = (this.at + 1) % ECHO;
        this.past[this.at] = piece.samples[piece.read++];
        this.held--;
        if (piece.read === piece.samples.length) this.pieces.shift();
        this.level = Math.min(1, this.level + 1 / FADE);
        value = this.past[this.at] * this.level;
      }
      if (this.echo > 0) {
        value += this.past[this.back] * this.echo;
        this.back = (this.back + ECHO - 1) % ECHO;
        this.echo = Math.max(0, this.echo - 1 / ECHO);
      }
      out[i] = value;
    }
  }

  gap() {
    const most = currentTime - this.gapAt < SOON_S ? MOST_MS : USUAL_MS;
    this.target = Math.max(this.target, Math.min(this.target + samplesIn(STEP_MS), samplesIn(most)));
    this.gaps++;
    this.gapAt = this.calmSince = currentTime;
    this.least = Infinity;
  }

  // Once in a while: what was played when, and whether less could be held ready.
  tell() {
    if (currentTime - this.toldAt < TELL_S) return;
    this.toldAt = currentTime;
    this.port.postMessage({ marks: this.marks, gaps: this.gaps, ready: (1000 * this.target) / sampleRate });
    this.marks = [];
    if (!this.playing || currentTime - this.calmSince < CALM_S) return;
    const spare = this.least - samplesIn(SPARE_MS);
    if (spare > 0) this.target = Math.max(this.target - Math.ceil(spare / 4), samplesIn(READY_MS));
    this.calmSince = currentTime;
    this.least = Infinity;
  }
}

registerProcessor("bow", Bow);
