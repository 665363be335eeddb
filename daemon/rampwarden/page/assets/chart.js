// The course of the heat drawn as a corridor with a dot in it: what the schedule allowed, where the temperature went, where
// it is, and where it leads if it goes on like this. Draws what it is given; all colours come from the style sheet.

import { visible } from "./view.js";
import { heatTime, shownTemp, timeOfDay } from "./units.js";

const LATE_S = 1800;
const AHEAD_OF_LATE_S = 600;
// A limit on one side only is drawn as a wall with at least this much shade on the side that is allowed, and as far as the
// temperature goes there: a course that keeps to it is never drawn apart from what is allowed.
const SHADE_PX = 12;
const STEPS_MIN = [1, 2, 5, 10, 15, 30, 60, 120, 180, 240, 360, 720, 1440];
// Each other probe has a line of its own make, told apart without any colour, and its name at its end.
export const DASHES = [[10, 4], [2, 4], [12, 4, 2, 4], [6, 3, 2, 3, 2, 3], [16, 6], [4, 8], [1, 3]];
const MARGIN = { left: 54, right: 14, top: 26, bottom: 30 };

function niceStep(span, most) {
  const rough = span / most;
  const power = 10 ** Math.floor(Math.log10(rough));
  return power * [1, 2, 2.5, 5, 10].find((factor) => factor * power >= rough);
}

export class Chart {
  constructor(canvas) {
    this.canvas = canvas;
    this.isLate = false;
    this.drawn = null;
    new ResizeObserver(() => this.redraw()).observe(canvas.parentElement);
  }

  draw(heat) {
    this.drawn = heat;
    this.redraw();
  }

  redraw() {
    if (!this.drawn || document.visibilityState === "hidden") return;
    const { clientWidth: width, clientHeight: height } = this.canvas.parentElement;
    const density = window.devicePixelRatio || 1;
    if (width < 80 || height < 80) return;
    if (this.canvas.width !== Math.round(width * density) || this.canvas.height !== Math.round(height * density)) {
      this.canvas.width = Math.round(width * density);
      this.canvas.height = Math.round(height * density);
    }
    const pen = this.canvas.getContext("2d");
    pen.setTransform(density, 0, 0, density, 0, 0);
    pen.clearRect(0, 0, width, height);
    const style = getComputedStyle(this.canvas);
    this.colour = (name) => style.getPropertyValue(`--${name}`).trim();
    pen.font = `${style.getPropertyValue("--chart-font").trim() || "14px"} ${style.fontFamily}`;
    this.frame(pen, width, height);
  }

  frame(pen, width, height) {
    const { points, ahead, nowS } = this.drawn;
    const fromS = this.isLate ? Math.max(0, nowS - LATE_S) : (points[0]?.[0] ?? 0);
    const aheadS = ahead.at(-1)?.[0] ?? nowS;
    const toS = this.isLate ? nowS + Math.min(AHEAD_OF_LATE_S, Math.max(120, aheadS - nowS)) : Math.max(aheadS, nowS + 60);
    const inView = (point) => point[0] >= fromS && point[0] <= toS;
    const past = points.filter(inView);
    const coming = ahead.filter(inView);
    const beside = this.drawn.beside.map(({ probe, points }) => ({ probe, points: points.filter(inView) }));
    const [lowC, highC] = this.range([...past, ...beside.flatMap(({ points }) => points)], coming);
    const box = { left: MARGIN.left, top: MARGIN.top, right: width - MARGIN.right, bottom: height - MARGIN.bottom };
    const x = (timeS) => box.left + ((timeS - fromS) / Math.max(1, toS - fromS)) * (box.right - box.left);
    const y = (tempC) => box.bottom - ((tempC - lowC) / (highC - lowC)) * (box.bottom - box.top);
    this.grid(pen, box, lowC, highC, y);
    this.hours(pen, box, fromS, toS, x);
    pen.save();
    pen.beginPath();
    pen.rect(box.left, 0, box.right - box.left + MARGIN.right, box.bottom);
    pen.clip();
    this.segments(pen, box, inView, x);
    this.corridor(pen, past, x, y, 1);
    this.corridor(pen, coming, x, y, 0.5);
    this.line(pen, coming, x, y, { colour: this.colour("ahead"), width: 2, dash: [3, 6] });
    this.besides(pen, beside, x, y);
    this.line(pen, past, x, y, { colour: this.colour("course"), width: 2.5, dash: [] });
    this.happened(pen, box, inView, x);
    this.present(pen, box, past, x, y);
    pen.restore();
  }

  range(past, coming) {
    let low = Infinity;
    let high = -Infinity;
    for (const point of [...past, ...coming]) {
      for (const tempC of [point[1], point[2], point[3]]) {
        if (tempC === null) continue;
        if (tempC < low) low = tempC;
        if (tempC > high) high = tempC;
      }
    }
    if (low > high) return [0, 200];
    const roomC = Math.max(10, (high - low) * 0.08);
    return [this.isLate ? low - roomC : Math.min(0, low), high + roomC];
  }

  grid(pen, box, lowC, highC, y) {
    const low = shownTemp(lowC);
    const high = shownTemp(highC);
    const step = niceStep(high - low, Math.max(2, (box.bottom - box.top) / 52));
    pen.textAlign = "right";
    pen.textBaseline = "middle";
    for (let value = Math.ceil(low / step) * step; value <= high; value += step) {
      const atY = y(lowC + ((value - low) / (high - low)) * (highC - lowC));
      this.stroke(pen, [[box.left, atY], [box.right, atY]], { colour: this.colour("grid"), width: 1, dash: [] });
      pen.fillStyle = this.colour("ink-soft");
      pen.fillText(String(Math.round(value)), box.left - 7, atY);
    }
  }

  hours(pen, box, fromS, toS, x) {
    const { started } = this.drawn;
    const most = Math.max(2, (box.right - box.left) / 84);
    const stepS = 60 * (STEPS_MIN.find((minutes) => (toS - fromS) / (60 * minutes) <= most) ?? 2880);
    // Times of day fall on the clock's own round figures.
    const shiftS = started ? (started.getTime() / 1000 - started.getTimezoneOffset() * 60) % stepS : 0;
    pen.textAlign = "center";
    pen.textBaseline = "top";
    pen.fillStyle = this.colour("ink-soft");
    for (let timeS = Math.ceil((fromS + shiftS) / stepS) * stepS - shiftS; timeS <= toS; timeS += stepS) {
      const atX = x(timeS);
      if (atX < box.left + 16 || atX > box.right - 12) continue;
      const words = started ? timeOfDay(new Date(started.getTime() + timeS * 1000)) : heatTime(timeS);
      this.stroke(pen, [[atX, box.bottom], [atX, box.bottom + 4]], { colour: this.colour("ink-soft"), width: 1, dash: [] });
      pen.fillText(words, atX, box.bottom + 7);
    }
  }

  segments(pen, box, inView, x) {
    const starts = this.drawn.happenings.filter((each) => each.event === "segment-started");
    pen.textAlign = "left";
    pen.textBaseline = "alphabetic";
    starts.forEach((start, index) => {
      const nextX = index + 1 < starts.length ? x(starts[index + 1].time_s) : box.right;
      const atX = Math.max(box.left, x(start.time_s));
      if (inView([start.time_s])) {
        this.stroke(pen, [[atX, 6], [atX, box.bottom]], { colour: this.colour("grid-strong"), width: 1, dash: [2, 4] });
      }
      const name = visible(start.text.split(" · ")[0]);
      if (nextX - atX > pen.measureText(name).width + 12) {
        pen.fillStyle = this.colour("ink-soft");
        pen.fillText(name, atX + 5, 15);
      }
    });
  }

  // Pieces between two edges are filled; where there is one edge only, its wall is drawn with a shade inward.
  corridor(pen, points, x, y, strength) {
    const kindOf = (point) => (point[2] === null ? 0 : 1) + (point[3] === null ? 0 : 2);
    let from = 0;
    for (let index = 1; index <= points.length; index++) {
      if (index < points.length && kindOf(points[index]) === kindOf(points[from])) continue;
      this.piece(pen, points.slice(from, index), kindOf(points[from]), x, y, strength);
      from = index;
    }
  }

  piece(pen, points, kind, x, y, strength) {
    if (kind === 0 || points.length < 2) return;
    const high = points.map((point) => [x(point[0]), kind & 2 ? y(point[3]) : Math.min(y(point[2]) - SHADE_PX, y(point[1]))]);
    const low = points.map((point) => [x(point[0]), kind & 1 ? y(point[2]) : Math.max(y(point[3]) + SHADE_PX, y(point[1]))]);
    pen.globalAlpha = strength;
    pen.fillStyle = this.colour("corridor");
    pen.beginPath();
    for (const [atX, atY] of high) pen.lineTo(atX, atY);
    for (const [atX, atY] of low.reverse()) pen.lineTo(atX, atY);
    pen.fill();
    const wall = { colour: this.colour("wall"), width: 1.5, dash: [] };
    if (kind & 2) this.stroke(pen, high, wall);
    if (kind & 1) this.stroke(pen, low, wall);
    pen.globalAlpha = 1;
  }

  line(pen, points, x, y, how) {
    this.stroke(pen, points.map((point) => [x(point[0]), y(point[1])]), how);
  }

  besides(pen, beside, x, y) {
    pen.textAlign = "right";
    pen.textBaseline = "alphabetic";
    const taken = [];
    beside.forEach(({ probe, points }, index) => {
      const last = points.at(-1);
      if (!last) return;
      this.line(pen, points, x, y, { colour: this.colour("ink-soft"), width: 2, dash: DASHES[index % DASHES.length] });
      let atY = y(last[1]) - 6;
      while (taken.some((other) => Math.abs(other - atY) < 16)) atY -= 16;
      taken.push(atY);
      pen.fillStyle = this.colour("ink");
      pen.fillText(visible(probe), x(last[0]) - 12, atY);
    });
  }

  happened(pen, box, inView, x) {
    for (const { time_s: timeS, event, priority } of this.drawn.happenings) {
      if (!inView([timeS]) || !["alarm", "note", "mark"].includes(event)) continue;
      const atX = x(timeS);
      pen.fillStyle = event === "alarm" ? this.colour(priority) : this.colour("ink-soft");
      pen.beginPath();
      if (event === "alarm") {
        pen.moveTo(atX, box.bottom - 14);
        pen.lineTo(atX + 6, box.bottom - 3);
        pen.lineTo(atX - 6, box.bottom - 3);
      } else {
        pen.rect(atX - 3, box.bottom - 9, 6, 6);
      }
      pen.fill();
    }
  }

  present(pen, box, past, x, y) {
    const last = past.at(-1);
    if (!last) return;
    const [atX, atY] = [x(last[0]), y(last[1])];
    this.stroke(pen, [[atX, box.top - 4], [atX, box.bottom]], { colour: this.colour("ember"), width: 1, dash: [1, 4] });
    const isOut = (last[2] !== null && last[1] < last[2]) || (last[3] !== null && last[1] > last[3]);
    pen.beginPath();
    pen.arc(atX, atY, 8, 0, 2 * Math.PI);
    pen.fillStyle = this.drawn.isFrozen ? this.colour("ink-soft") : this.colour("ember");
    pen.fill();
    pen.lineWidth = 3;
    pen.strokeStyle = this.colour("paper");
    pen.stroke();
    if (isOut) {
      pen.beginPath();
      pen.arc(atX, atY, 14, 0, 2 * Math.PI);
      pen.strokeStyle = this.colour("high");
      pen.stroke();
    }
  }

  stroke(pen, places, { colour, width, dash }) {
    if (places.length < 2) return;
    pen.setLineDash(dash);
    pen.lineWidth = width;
    pen.lineJoin = "round";
    pen.strokeStyle = colour;
    pen.beginPath();
    for (const [atX, atY] of places) pen.lineTo(atX, atY);
    pen.stroke();
    pen.setLineDash([]);
  }
}
