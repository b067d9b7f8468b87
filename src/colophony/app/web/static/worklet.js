// Runs beside the sound card: hands the microphone's samples on, untouched, in pieces of a twelfth of a second.

const PIECE = 4096;

class Tap extends AudioWorkletProcessor {
  constructor() {
    super();
    this.piece = new Float32Array(PIECE);
    this.filled = 0;
    this.peak = 0;
    this.port.onmessage = () => {
      this.hand();
      this.port.postMessage({ end: true });
    };
  }

  hand() {
    if (this.filled === 0) return;
    const samples = this.piece.slice(0, this.filled);
    this.port.postMessage({ samples, peak: this.peak }, [samples.buffer]);
    this.filled = 0;
    this.peak = 0;
  }

  process(inputs) {
    const channel = inputs[0][0];
    if (channel) {
      for (const value of channel) {
        this.piece[this.filled++] = value;
        const size = Math.abs(value);
        if (size > this.peak) this.peak = size;
        if (this.filled === PIECE) this.hand();
      }
    }
    return true;
  }
}

registerProcessor("tap", Tap);
