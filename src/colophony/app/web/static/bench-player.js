// Plays strokes that the studio has rendered, one or several after each other, at the page's own loudness.

export class Player {
  constructor(root) {
    this.sound = new Audio();
    this.sound.preload = "none";
    this.waiting = [];
    this.playing = null;
    const loudness = root.querySelector("#loudness");
    const now = root.querySelector("#loudness-now");
    this.listeners = [];
    const set = () => {
      now.textContent = `${loudness.value}\u00a0%`;
      this.gain = (loudness.value / 100) ** 2; // half the way is a quarter: even steps to the ear
      this.sound.volume = this.gain;
      for (const listener of this.listeners) listener(this.gain);
    };
    loudness.addEventListener("input", set);
    set();
    this.sound.addEventListener("ended", () => this.go());
    this.sound.addEventListener("error", () => this.playing && this.stop());
    document.addEventListener("keydown", (event) => event.key === "Escape" && this.stop());
  }

  onGain(listener) {
    this.listeners.push(listener);
    listener(this.gain);
  }

  // The button that plays stops; each `{button, address}` in turn.
  play(list) {
    const again = this.playing && list.length === 1 && list[0].button === this.playing.button;
    this.stop();
    if (again) return;
    this.waiting = list;
    this.go();
  }

  go() {
    this.mark(null);
    const stroke = this.waiting.shift();
    if (!stroke) return;
    this.mark(stroke);
    this.sound.src = stroke.address;
    this.sound.play().catch(() => this.mark(null));
  }

  stop() {
    this.waiting = [];
    this.sound.pause();
    this.mark(null);
  }

  mark(stroke) {
    this.playing?.button.removeAttribute("data-playing");
    this.playing = stroke;
    stroke?.button.setAttribute("data-playing", "");
  }
}
