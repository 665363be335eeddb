// The sound of an alarm: three strokes for high, two for medium, one for low, as the bell at the furnace strikes them;
// again until acknowledged, faster as time passes. A browser lets a page sound only after it has been touched.

const STROKES = { high: 3, medium: 2, low: 1 };
const PITCH_HZ = { high: 880, medium: 659, low: 523 };
const RANK = ["low", "medium", "high"];
const STROKE_S = 0.22;
const BETWEEN_STROKES_S = 0.35;
// A few harmonics carry through a burner's roar and past bad loudspeakers where a pure tone does not.
const HARMONICS = [1, 0.6, 0.4, 0.25];

// Seconds until the next ring of an alarm that has been waiting for `waitingS`; null: it rings once.
function ringAgainAfter(priority, waitingS) {
  if (priority === "low") return null;
  if (priority === "medium") return 120;
  if (waitingS < 120) return 30;
  return waitingS < 300 ? 15 : 8;
}

export class Sound {
  constructor() {
    this.context = null;
    this.isWanted = false;
    this.waiting = new Map();
    this.rungS = -Infinity;
    this.lock = null;
  }

  get isOn() {
    return this.isWanted && this.context?.state === "running";
  }

  async turnOn() {
    this.isWanted = true;
    this.context ??= new AudioContext();
    await this.context.resume();
    this.ring("low");
    this.stayAwake();
  }

  turnOff() {
    this.isWanted = false;
    this.context?.suspend();
    this.lock?.release();
    this.lock = null;
  }

  // A screen that goes dark takes the sound with it. Only a page served by TLS, or on this computer, may ask for this.
  async stayAwake() {
    if (!this.isWanted || document.visibilityState !== "visible") return;
    try {
      this.lock = await navigator.wakeLock?.request("screen");
    } catch {
      this.lock = null;
    }
  }

  // Say what waits for somebody: a map of names to priorities. New ones ring at once, the others when it is time.
  heed(waiting, nowS) {
    let urgent = null;
    for (const [name, priority] of waiting) {
      if (!this.waiting.has(name)) {
        this.waiting.set(name, { priority, sinceS: nowS });
        urgent = more(urgent, priority);
      }
    }
    for (const name of this.waiting.keys()) if (!waiting.has(name)) this.waiting.delete(name);
    if (urgent !== null) {
      // Whatever else waits may be more urgent than what is new.
      for (const each of this.waiting.values()) urgent = more(urgent, each.priority);
    } else {
      for (const { priority, sinceS } of this.waiting.values()) {
        const pauseS = ringAgainAfter(priority, nowS - sinceS);
        if (pauseS !== null && nowS - this.rungS >= pauseS) urgent = more(urgent, priority);
      }
    }
    if (urgent !== null) {
      this.rungS = nowS;
      this.ring(urgent);
    }
  }

  ring(priority) {
    if (!this.isOn) return;
    for (let stroke = 0; stroke < STROKES[priority]; stroke++) this.strike(priority, stroke * BETWEEN_STROKES_S);
    navigator.vibrate?.(Array(2 * STROKES[priority] - 1).fill(180));
  }

  strike(priority, afterS) {
    const context = this.context;
    const startS = context.currentTime + 0.03 + afterS;
    const loudness = context.createGain();
    loudness.gain.setValueAtTime(0.0001, startS);
    loudness.gain.exponentialRampToValueAtTime(0.5, startS + 0.015);
    loudness.gain.setValueAtTime(0.5, startS + STROKE_S - 0.06);
    loudness.gain.exponentialRampToValueAtTime(0.0001, startS + STROKE_S);
    loudness.connect(context.destination);
    HARMONICS.forEach((share, index) => {
      const tone = context.createOscillator();
      const part = context.createGain();
      tone.frequency.value = PITCH_HZ[priority] * (index + 1);
      part.gain.value = share / 2.25;
      tone.connect(part).connect(loudness);
      tone.start(startS);
      tone.stop(startS + STROKE_S + 0.02);
    });
  }
}

const more = (one, other) => (one === null || RANK.indexOf(other) > RANK.indexOf(one) ? other : one);
