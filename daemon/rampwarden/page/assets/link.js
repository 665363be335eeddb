// The line to the watch: takes its messages, keeps the picture they make, and comes back by itself when it is cut.
//
// Nothing here trusts that a line which looks open is open. The watch says something every second; when nothing has come
// for a few, the line is given up and tried anew. `quiet()` is for how long nothing new was seen of the heat: since the
// last message, plus what the watch itself said it had been silent for.

import { Course } from "./course.js";
import { learnTurned } from "./units.js";

const PATIENCE_MS = 4000;
const FIRST_PAUSE_MS = 500;
const LONGEST_PAUSE_MS = 8000;
const MOST_HAPPENINGS = 200;
// How far two computers' clocks may drift apart, generously: seconds a second.
const DRIFT = 1e-3;

// A sleeping phone may stop one clock or the other; the one that has seen more time go by is right.
const clocks = () => ({ steady: performance.now(), wall: Date.now() });
const sinceMs = (then) => Math.max(performance.now() - then.steady, Date.now() - then.wall);

export class Link {
  constructor({ onPicture, onRight, onRefused }) {
    this.onPicture = onPicture;
    this.onRight = onRight;
    this.onRefused = onRefused;
    this.picture = null;
    this.course = new Course();
    this.beside = new Map();
    this.isConnected = false;
    this.heard = null;
    this.silentS = 0;
    this.offsetS = null;
    this.pauseMs = FIRST_PAUSE_MS;
    this.source = null;
    this.retry = 0;
    this.tried = clocks();
  }

  // Real seconds since something new was seen of the heat; null before the first picture.
  quiet() {
    return this.heard === null ? null : this.silentS + sinceMs(this.heard) / 1000;
  }

  open() {
    clearTimeout(this.retry);
    this.source?.close();
    this.tried = clocks();
    this.offsetS = null;
    const source = new EventSource("/stream");
    this.source = source;
    const on = (name, take) =>
      source.addEventListener(name, (event) => {
        if (source === this.source) take(JSON.parse(event.data));
      });
    on("right", (right) => this.onRight(right));
    on("whole", (message) => {
      this.picture = message.picture;
      this.course = new Course(message.picture.course);
      this.beside = new Map();
      this.addBeside(message.picture.beside);
      this.take(message);
    });
    on("change", (message) => {
      const { course, happenings, beside, ...parts } = message.picture;
      Object.assign(this.picture, parts);
      if (course) this.course.add(course);
      this.addBeside(beside);
      if (happenings) this.picture.happenings = this.picture.happenings.concat(happenings).slice(-MOST_HAPPENINGS);
      this.take(message);
    });
    on("still", (message) => this.take(message));
    source.onerror = () => {
      if (source === this.source) this.lose();
    };
  }

  // To be called every second: gives up a line on which nothing comes.
  watch() {
    const last = this.isConnected ? this.heard : this.tried;
    if (this.source && sinceMs(last) > PATIENCE_MS) this.lose();
  }

  // The network is back, or somebody looks again: not the moment to wait.
  hurry() {
    this.pauseMs = FIRST_PAUSE_MS;
    if (!this.source) this.open();
    else this.watch();
  }

  // The courses of the other probes, each by its name.
  addBeside(courses = []) {
    for (const { probe, points } of courses) {
      if (!this.beside.has(probe)) this.beside.set(probe, new Course());
      this.beside.get(probe).add(points);
    }
  }

  take(message) {
    learnTurned(message.fahrenheit);
    this.isConnected = true;
    this.pauseMs = FIRST_PAUSE_MS;
    const sinceS = this.heard === null ? 0 : sinceMs(this.heard) / 1000;
    this.heard = clocks();
    this.silentS = message.silent_s + this.heldUp(message.told_s, sinceS);
    this.onPicture();
  }

  // For how long a message was held up on its way, as against the quickest: old news must not look new.
  heldUp(toldS, sinceS) {
    const offsetS = performance.now() / 1000 - toldS;
    this.offsetS = this.offsetS === null ? offsetS : Math.min(offsetS, this.offsetS + DRIFT * sinceS);
    return offsetS - this.offsetS;
  }

  lose() {
    this.isConnected = false;
    this.source?.close();
    this.source = null;
    clearTimeout(this.retry);
    this.retry = setTimeout(() => this.tryAgain(), this.pauseMs);
    this.pauseMs = Math.min(2 * this.pauseMs, LONGEST_PAUSE_MS);
  }

  async tryAgain() {
    try {
      // A browser does not tell why a stream was refused, but it does for this.
      const answer = await fetch("/stream", { method: "HEAD", signal: AbortSignal.timeout(PATIENCE_MS) });
      if (answer.status === 401) {
        this.onRefused();
        return;
      }
      this.open();
    } catch {
      this.lose();
    }
  }
}
