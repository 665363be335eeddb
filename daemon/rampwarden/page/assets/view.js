// Puts the picture of the heat into words and numerals on the page. Every text goes in as text, never as markup: notes and
// names come from people and records. Asks nothing and sends nothing.

import { difference, duration, heatTime, inUnit, rampScale, shownTemp, signed, temp, timeOfDay, units } from "./units.js";

import { answerable, fillWrong, isWithdrawn, withdrawnOf } from "./wrong.js";

const MOST_LISTED = 30;
const SIGNS = { high: "▲", medium: "◆", low: "●" };
const BANNERS = {
  rehearsal: "Rehearsal: a model furnace, no real heat",
  replay: "Replay: an old heat from its record",
};

export const at = (id) => document.getElementById(id);

// What somebody else has written may hold marks of direction and other invisible letters, which would turn about all
// that is read around it.
const INVISIBLE = /[\p{Cc}\p{Cf}\p{Cs}\p{Co}\p{Zl}\p{Zp}]/gu;
export const visible = (words) => String(words).replace(INVISIBLE, "\ufffd");

// Written only on a change: a page of which nothing changes costs nothing, and a screen reader is not disturbed.
export function write(element, words) {
  const shown = visible(words);
  if (element.textContent !== shown) element.textContent = shown;
}

export function show(element, isShown) {
  if (element.hidden === isShown) element.hidden = !isShown;
}

const isLive = (picture) => picture.about.mode === "live";

// When the heat began by the time of day; null for a rehearsal, whose clock is faster than any day's.
export const startedAt = (picture) => (picture.about.mode === "rehearsal" ? null : new Date(picture.about.started));

// When a moment of the heat was, as people say it.
function whenever(picture, timeS) {
  const started = startedAt(picture);
  return started === null ? heatTime(timeS) : timeOfDay(new Date(started.getTime() + 1000 * timeS));
}

export function showHead(picture) {
  const { about } = picture;
  const who = picture.status.watched_by ? `watched by ${picture.status.watched_by}` : "";
  write(at("title"), [about.crucible, about.title, who].filter(Boolean).join(" · "));
  const banner = BANNERS[about.mode] ?? "";
  const pace = banner && picture.pace !== 1 ? `, ${picture.pace} times as fast` : "";
  const date = about.mode === "replay" ? `, of ${about.started.slice(0, 10)}` : "";
  write(at("mode"), banner && `${banner}${date}${pace}${picture.paused ? ", paused" : ""}`);
  show(at("mode"), banner !== "");
}

export function showNow(picture, isFrozen) {
  const { status, low_c: lowC, high_c: highC } = picture;
  const tempC = status.temp_c;
  write(at("temp"), tempC === null ? "–" : String(Math.round(shownTemp(tempC))));
  write(at("temp-unit"), units.degree);
  document.body.classList.toggle("frozen", isFrozen);
  const ageS = status.read_s === undefined || status.read_s === null ? null : Math.max(0, status.time_s - status.read_s);
  const doubt = doubtOf(status, ageS, picture.pace);
  write(at("watched"), capital(picture.watched));
  show(at("watched"), picture.watched !== "");
  showPhysics(picture.physics);
  write(at("doubt"), doubt);
  show(at("doubt"), doubt !== "");
  const explanation = explanationOf(status);
  write(at("explained"), explanation);
  show(at("explained"), explanation !== "");
  showStand(tempC, lowC, highC);
  showRamp(status);
}

// What is reckoned of wall, bottle and water: a line each.
function showPhysics(lines) {
  const list = at("physics");
  show(list, lines.length > 0);
  while (list.children.length > lines.length) list.lastElementChild.remove();
  lines.forEach((line, index) => {
    if (!list.children[index]) list.append(document.createElement("li"));
    write(list.children[index], capital(inUnit(line)));
  });
}

function doubtOf(status, ageS, pace) {
  if (status.temp_c === null) return "No temperature is to be had.";
  if (ageS !== null && ageS > 5 * Math.max(1, pace)) return `Read ${duration(ageS)} ago, nothing since.`;
  if (status.quality === "held") return "Not trusted yet.";
  if (status.standing_in) return standingIn(status.standing_in, status.hold_s);
  if (!status.withheld) return "";
  const left = duration(Math.max(0, status.withheld.until_s - status.time_s));
  return `${capital(status.withheld.alarms[0])} is held back, for ${left} more at most: ${inUnit(status.withheld.text)}.`;
}

// The temperature is a guess by another probe: never without how far it may be off.
function standingIn(state, holdS) {
  const parts = [`By the ${visible(state.probe)} probe, ± ${difference(state.expanded_c)}`];
  if (state.unguarded.length) parts.push(`not guarded: ${visible(state.unguarded.map(inUnit).join(", "))}`);
  if (!state.earns && holdS) parts.push("the soak earns nothing");
  return `${parts.join("; ")}.`;
}

// What an alarm says already is not said twice.
function explanationOf(status) {
  return status.statement && !status.statement.alarm ? `${capital(inUnit(status.statement.text))}.` : "";
}

// Where the temperature stands between the edges the schedule draws now.
function showStand(tempC, lowC, highC) {
  lane(at("temp-lane"), tempC, lowC, highC, 50);
  if (tempC === null || (lowC === null && highC === null)) {
    write(at("stand"), tempC === null ? "–" : "no limit now");
    write(at("stand-allowed"), "");
    return;
  }
  const over = highC !== null && tempC > highC;
  const under = lowC !== null && tempC < lowC;
  const words = over ? `${difference(tempC - highC)} too hot` : under ? `${difference(lowC - tempC)} too cold` : "within the corridor";
  write(at("stand"), words);
  write(at("stand-allowed"), between(lowC, highC, temp));
}

function showRamp(status) {
  const ramp = status.ramp?.c_per_s ?? null;
  const [lowest, highest] = status.allowed_c_per_s;
  const bound = highest ?? lowest ?? ramp ?? 0;
  const { factor, unit } = rampScale(bound);
  lane(at("ramp-lane"), ramp, lowest, highest, Math.max(Math.abs(bound), 1e-4));
  write(at("ramp"), ramp === null ? (status.temp_c === null || status.segment === null ? "–" : "…") : `${signed(ramp * factor)} ${unit}`);
  // A lower bound below zero is that of cooling: no person calls -100 the least and -400 too much.
  const isCooling = lowest !== null && lowest < 0;
  const words = isCooling ? `at most ${signed(lowest * factor)}` : between(lowest, highest, (value) => signed(value * factor));
  write(at("ramp-allowed"), words || "no limit");
}

function between(low, high, say) {
  if (low !== null && high !== null) return `${say(low)} to ${say(high)}`;
  if (high !== null) return `at most ${say(high)}`;
  return low === null ? "" : `at least ${say(low)}`;
}

// A lane with a wall for each edge there is and a dot where the value stands. `span` is the room shown beside one edge.
export function lane(element, value, low, high, span) {
  const from = low ?? (high === null ? null : high - span);
  const to = high ?? (low === null ? null : low + span);
  element.classList.toggle("without-low", low === null);
  element.classList.toggle("without-high", high === null);
  const isKnown = value !== null && from !== null && to !== null && to > from;
  element.classList.toggle("empty", !isKnown);
  if (!isKnown) return;
  // The lane takes the middle three fifths; what is left is for having strayed.
  const share = 20 + (60 * (value - from)) / (to - from);
  element.classList.toggle("outside", (low !== null && value < low) || (high !== null && value > high));
  element.style.setProperty("--at", `${Math.min(95, Math.max(5, share))}%`);
}

export function showDoing(picture) {
  const { status, present, coming, about } = picture;
  write(at("where"), present ? `Segment ${status.segment_number} of ${status.segment_count}` : "");
  write(at("segment"), present ? present.name : status.readiness ? "The heat is over" : capital(picture.doing));
  write(at("aim"), present ? [capital(inUnit(present.aim)), inUnit(present.limits)].filter(Boolean).join(", ") : "");
  write(at("say"), present?.say ?? "");
  show(at("say"), Boolean(present?.say));
  const isSoak = status.hold_s > 0;
  show(at("soak"), isSoak);
  if (isSoak) {
    write(at("soaked"), capital(picture.kept));
    at("soak-bar").style.setProperty("--done", String(Math.min(1, status.soaked_s / status.hold_s)));
  }
  write(at("to-next"), picture.next_in || "not known");
  // Outside any segment nothing comes next, and no time leads there.
  show(at("times"), present !== null || status.to_end_s !== null);
  const isDone = picture.over || present === null;
  const endAt = status.to_end_s === null || !isLive(picture) ? "" : `, at ${whenever(picture, status.time_s + status.to_end_s)}`;
  write(at("to-end"), `${picture.done_in || (isDone ? "–" : "not known")}${endAt}${picture.learnt ? `, ${picture.learnt}` : ""}`);
  write(at("coming"), picture.stops ? `${capital(inUnit(picture.stops))}.` : coming ? `Then ${coming.name}: ${inUnit(coming.aim)}.` : present ? "Then the schedule is done." : about.basis);
}

// Before the end nothing is promised; then what the pot is ready for, and why, the gravest reason first.
export function showReadiness(picture) {
  const { readiness } = picture.status;
  show(at("readiness"), Boolean(readiness));
  // No limit holds any more: lanes without walls would be two grey bars above what matters now.
  document.body.classList.toggle("ended", Boolean(readiness));
  if (!readiness) return;
  at("readiness").dataset.ready = readiness.ready;
  write(at("ready"), readiness.sentence);
  const list = at("ready-why");
  const key = `${units.degree}${readiness.reasons.join("\n")}`;
  if (list.dataset.key === key) return;
  list.dataset.key = key;
  list.replaceChildren(
    ...readiness.reasons.map((reason) => {
      const line = document.createElement("li");
      line.textContent = visible(inUnit(reason));
      return line;
    }),
  );
}

export const capital = (words) => words.charAt(0).toUpperCase() + words.slice(1);

// `isFrozen`: nothing is known of the present, so nothing is ordered for it and nothing is said to be well.
export function showAlarms(picture, mayAct, pending, isFrozen) {
  const list = at("alarm-list");
  const { alarms } = picture;
  show(at("calm"), alarms.length === 0 && !isFrozen);
  showFirstOrder(isFrozen ? undefined : alarms.find((alarm) => alarm.is_first));
  const waiting = alarms.filter((alarm) => alarm.waits);
  show(at("acknowledge-all"), mayAct && waiting.length > 1);
  const cards = new Map([...list.children].map((card) => [card.dataset.alarm, card]));
  alarms.forEach((alarm, index) => {
    const card = cards.get(alarm.alarm) ?? newCard(alarm.alarm);
    cards.delete(alarm.alarm);
    fillCard(card, alarm, mayAct, pending);
    // A button that is being pressed must not move away under the finger: it moves only when the order has changed.
    if (list.children[index] !== card) list.insertBefore(card, list.children[index] ?? null);
  });
  for (const card of cards.values()) card.remove();
}

// The one thing to do now, in the largest letters after the temperature.
function showFirstOrder(first) {
  const line = at("first-order");
  show(line, first !== undefined);
  if (first === undefined) return;
  const className = `first-order ${first.priority}`;
  if (line.className !== className) line.className = className;
  write(line, first.order);
}

function newCard(name) {
  const card = at("alarm-card").content.firstElementChild.cloneNode(true);
  card.dataset.alarm = name;
  return card;
}

function fillCard(card, alarm, mayAct, pending) {
  const part = (name) => card.querySelector(`.${name}`);
  const isOver = alarm.state === "returned-unacknowledged";
  const className = `alarm ${alarm.priority} ${alarm.waits ? "waits" : "rests"} ${isOver ? "over" : "stands"}`;
  if (card.className !== className) card.className = className;
  write(part("sign"), SIGNS[alarm.priority]);
  write(part("rank-word"), alarm.priority);
  write(part("rank-state"), alarm.state_word);
  write(part("rank-name"), ` · ${alarm.alarm} · ${alarm.where}`);
  // The largest letters tell what to do now. What is over or shelved orders nothing, and says so.
  write(part("action"), alarm.action ? capital(inUnit(alarm.action)) : idleWords(alarm, isOver));
  write(part("fact"), capital(inUnit(alarm.text)));
  write(part("worst"), alarm.worst && !isOver ? `At worst ${inUnit(alarm.worst)}.` : "");
  write(part("why"), alarm.action ? `Why: ${inUnit(alarm.why)}. Time to act: ${alarm.time_to_act}.` : "");
  const button = part("acknowledge");
  show(button, mayAct && alarm.waits);
  const isPending = pending.has(alarm.alarm);
  button.disabled = isPending;
  write(button, isPending ? "Sent …" : "Acknowledge");
  button.setAttribute("aria-label", `Acknowledge ${alarm.alarm}`);
  show(part("wrong"), mayAct);
  fillWrong(part("wrong"), alarm, alarm.state === "said-wrong", "That was wrong");
}

// What an alarm that orders nothing says in the place of its order.
function idleWords(alarm, isOver) {
  if (alarm.yields_to) return `${capital(alarm.yields_to)} comes first`;
  if (isOver) return `Ended at ${heatTime(alarm.ended_s)}: nothing to do`;
  return alarm.state === "said-wrong" ? "Withdrawn: nothing to do now" : "Shelved: nothing to do now";
}

export function showHappenings(picture, mayAct) {
  const newest = picture.happenings.slice(-MOST_LISTED).reverse();
  const withdrawn = withdrawnOf(picture);
  const list = at("happenings");
  const key = `${units.degree}/${picture.unfiled}/${newest.length}/${newest[0]?.time_s}/${newest[0]?.text}/${picture.happenings.length}/${mayAct}/${[...withdrawn].join("/")}`;
  if (list.dataset.key === key) return;
  list.dataset.key = key;
  const open = mayAct ? answerable(picture.happenings) : new Set();
  list.replaceChildren(
    ...newest.map((each, index) => {
      const isTakenBack = each.is_statement && isWithdrawn(each, withdrawn);
      const line = document.createElement("li");
      line.className = `${each.priority ?? each.event}${isTakenBack ? " withdrawn" : ""}`;
      const time = document.createElement("time");
      time.textContent = whenever(picture, each.time_s);
      const words = document.createElement("span");
      words.textContent = { note: "Note: ", mark: "Mark: ", asked: "Asked: ", answered: "Answered: " }[each.event] ?? "";
      // The newest are the last that the disk takes.
      words.append(visible(inUnit(each.text)), index < picture.unfiled ? " · not yet on disk" : "");
      line.append(time, words);
      if (open.has(each)) {
        const button = document.createElement("button");
        button.type = "button";
        button.className = "quiet wrong";
        fillWrong(button, each, isTakenBack, "Wrong");
        line.append(button);
      }
      return line;
    }),
  );
}

const BROKER = { reached: "Broker connected", "not reached yet": "Broker not connected yet" };

export function showHealth(picture) {
  const { health } = picture;
  const lost = health.lost_frames ? `, ${health.lost_frames} frames lost` : "";
  const garbled = health.garbled_lines ? `, ${health.garbled_lines} lines garbled` : "";
  const parts = [
    health.board_trouble ? `Board: ${health.board_trouble}` : `Board OK${lost}${garbled}`,
    health.record_trouble ? `Record: ${health.record_trouble}` : "Recording",
  ];
  if (health.broker !== "none") parts.push(health.broker_trouble ? `Broker: ${health.broker_trouble}` : BROKER[health.broker] ?? `Broker ${health.broker}`);
  write(at("health"), parts.join(" · "));
  at("health").classList.toggle("ill", Boolean(health.board_trouble || health.record_trouble || health.broker_trouble));
}
