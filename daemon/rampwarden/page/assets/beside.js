// A lane for each probe beside the followed one: what it reads, and how far from the followed one it stands. The line before
// its name is that of its course.

import { DASHES } from "./chart.js";
import { at, lane, show, visible, write } from "./view.js";
import { difference, temp } from "./units.js";

// What a lane shows on either side of the followed probe, °C.
const SPAN_C = 100;
// A probe that hangs in no fire is not compared with one that does: its lane has room temperature in the middle.
const IN_NO_FIRE = ["bottle", "room"];
const ROOM_C = 20;
const ROOM_SPAN_C = 40;

export function showBeside(status, order) {
  const list = at("beside");
  const probes = status.probes ?? [];
  show(list, probes.length > 0);
  while (list.children.length > probes.length) list.lastElementChild.remove();
  probes.forEach((probe, index) => {
    const row = list.children[index] ?? list.appendChild(at("beside-row").content.firstElementChild.cloneNode(true));
    fill(row, probe, status.standing_in ? null : status.temp_c, DASHES[Math.max(0, order.indexOf(probe.probe)) % DASHES.length]);
  });
}

function fill(row, probe, followedC, dashes) {
  const part = (name) => row.querySelector(`.${name}`);
  const line = row.querySelector("line");
  if (line.getAttribute("stroke-dasharray") !== dashes.join(" ")) line.setAttribute("stroke-dasharray", dashes.join(" "));
  write(part("beside-name"), probe.probe === probe.place || !probe.place ? visible(probe.probe) : `${visible(probe.probe)} (${probe.place})`);
  const off = probe.expanded_c === null ? "" : ` ± ${difference(probe.expanded_c)}`;
  write(part("beside-temp"), probe.temp_c === null ? "–" : `${temp(probe.temp_c)}${off}`);
  const isCold = IN_NO_FIRE.includes(probe.place);
  const middleC = isCold ? ROOM_C : followedC;
  const spanC = isCold ? ROOM_SPAN_C : SPAN_C;
  const apartC = probe.temp_c === null || middleC === null ? null : probe.temp_c - middleC;
  write(part("beside-apart"), apartWords(probe, isCold ? null : apartC));
  lane(part("lane"), apartC, -spanC, spanC, spanC);
}

function apartWords(probe, apartC) {
  if (probe.temp_c === null) return "no temperature";
  if (probe.quality === "held") return "not trusted yet";
  if (apartC === null) return "";
  return Math.round(apartC) === 0 ? "as the followed one" : `${difference(Math.abs(apartC))} ${apartC > 0 ? "above" : "below"}`;
}
