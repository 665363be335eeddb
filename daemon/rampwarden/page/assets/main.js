// The page: brings together the line to the watch, what is shown of the heat, the sound, and what a person does.

import { ask, hold, showHeld } from "./act.js";
import { showBeside } from "./beside.js";
import { Chart } from "./chart.js";
import { Link } from "./link.js";
import { order } from "./orders.js";
import { listenForAnswers, showQuestions } from "./questions.js";
import { Sound } from "./sound.js";
import { duration, inUnit, temp, timeOfDay, units } from "./units.js";
import { at, show, showAlarms, showDoing, showHappenings, showHead, showHealth, showNow, showReadiness, startedAt, visible, write } from "./view.js";
import { listenForWrong, showOffer } from "./wrong.js";

// The watch says something every second, so this is several of them missed.
const NO_DATA_S = 5;
// What may be a moment's trouble of the air is no reason to make a noise.
const NO_DATA_SOUNDS_S = 15;
const SUMMARY_EVERY_MS = 300_000;
const PENDING_MS = 4000;
const NO_DATA = "no data";

const chart = new Chart(at("chart"));
const sound = new Sound();
const pending = new Map();
const spoken = new Set();
let isLetIn = false;
let isSilenceKnown = false;
let summarySaid = "";
let summaryAtMs = -Infinity;

const link = new Link({
  onPicture: refresh,
  onRight: (right) => {
    isLetIn = right === "act";
    show(at("logout"), isLetIn);
  },
  onRefused: () => location.assign("/login"),
});

function refresh() {
  const { picture } = link;
  if (!picture) return;
  const silence = silenceNow();
  // What is past can be looked at, and not be acted on any more.
  const isPast = picture.about.mode === "replay";
  const mayAct = isLetIn && !isPast;
  show(at("acting"), mayAct);
  show(at("only-look"), !isLetIn && !isPast);
  showSilence(silence);
  showHead(picture);
  showNow(picture, silence !== null);
  showDoing(picture);
  showReadiness(picture);
  for (const [alarm, sinceMs] of pending) if (performance.now() - sinceMs > PENDING_MS) pending.delete(alarm);
  showAlarms(picture, mayAct, pending, silence !== null);
  showQuestions(picture.status.questions ?? [], mayAct);
  showBeside(picture.status, [...link.beside.keys()]);
  showActs(picture, mayAct && !silence?.isOver);
  showHeld();
  showHappenings(picture, mayAct);
  showOffer();
  showHealth(picture);
  write(at("glance"), silence ? silence.word : `${at("temp").textContent} ${units.degree}   ${at("ramp").textContent}`);
  draw();
  speak(picture, silence);
}

function draw() {
  const { picture, course } = link;
  if (!picture) return;
  chart.draw({
    points: course.points,
    beside: [...link.beside].map(([probe, { points }]) => ({ probe, points })),
    ahead: picture.over ? [] : picture.ahead,
    happenings: picture.happenings,
    nowS: picture.status.time_s,
    started: startedAt(picture),
    isFrozen: silenceNow() !== null,
  });
}

// What keeps the page from knowing the present; null while it knows it.
function silenceNow() {
  const { picture } = link;
  if (!picture) return null;
  const quietS = link.quiet();
  const since = timeOfDay(new Date(Date.now() - 1000 * quietS), true);
  if (picture.over) {
    const word = picture.about.mode === "replay" ? "The replay has ended" : "The watch has ended";
    return { word, why: "This page comes back by itself with the next heat.", isOver: true, quietS: 0 };
  }
  if (quietS < NO_DATA_S || (picture.paused && link.isConnected)) return null;
  const last = picture.status.temp_c === null ? "" : ` The last temperature was ${temp(picture.status.temp_c)}.`;
  const why = link.isConnected
    ? `The watch has not moved for ${duration(quietS)}: look at the furnace, then at its computer.`
    : `This page has lost the watch ${duration(quietS)} ago and keeps trying. Assume the furnace is hot.`;
  return { word: `No data since ${since}`, why: why + last, isOver: false, quietS };
}

function showSilence(silence) {
  show(at("silence"), silence !== null);
  if (silence === null) {
    isSilenceKnown = false;
    return;
  }
  write(at("silence-word"), silence.word);
  write(at("silence-why"), silence.why);
  at("silence").classList.toggle("over", silence.isOver);
  show(at("silence-known"), sound.isOn && !silence.isOver && !isSilenceKnown && silence.quietS > NO_DATA_SOUNDS_S);
}

// What is within the thumb's reach, wherever the page is scrolled to; and what is asked for at the end.
function showActs(picture, mayAct) {
  const { status, about } = picture;
  const index = status.segment_number - 1;
  const isCarried = picture.present?.kind === "transfer";
  const isToCome = about.segments.slice(index).some((segment) => segment.kind === "transfer");
  show(at("act-bar"), mayAct);
  document.body.classList.toggle("acting", mayAct);
  at("bar-acknowledge").disabled = !picture.alarms.some((alarm) => alarm.waits);
  const transfer = at("bar-transfer");
  show(transfer, picture.present !== null && isToCome);
  transfer.dataset.mark = isCarried ? "arrived" : "transfer";
  write(transfer, isCarried ? "Pot in the furnace" : "Pot leaves the oven");
  show(at("skip-segment"), mayAct && picture.present !== null);
  show(at("afterwards"), mayAct && Boolean(status.readiness) && about.mode === "live");
}

// For ears: the sound, and a screen reader. High alarms interrupt, everything else waits its turn.
function speak(picture, silence) {
  const waiting = new Map(picture.alarms.filter((alarm) => alarm.waits).map((alarm) => [alarm.alarm, alarm.priority]));
  const isLost = silence !== null && !silence.isOver;
  if (isLost && silence.quietS > NO_DATA_SOUNDS_S && !isSilenceKnown) waiting.set(NO_DATA, "high");
  if (picture.over) waiting.clear();
  sound.heed(waiting, performance.now() / 1000);
  showSound();
  for (const alarm of picture.alarms) {
    const name = `${alarm.alarm}/${alarm.since_s}/${alarm.state}`;
    if (spoken.has(name)) continue;
    if (spoken.size > 200) spoken.clear();
    spoken.add(name);
    if (alarm.state === "unacknowledged") write(at(alarm.priority === "high" ? "urgent-words" : "quiet-words"), `${alarm.priority} alarm: ${inUnit(alarm.text)}`);
  }
  if (isLost && !spoken.has(NO_DATA)) at("urgent-words").textContent = silence.word;
  if (isLost) spoken.add(NO_DATA);
  else spoken.delete(NO_DATA);
  summarise(picture, isLost);
  const first = picture.alarms.find((alarm) => alarm.waits);
  const shown = isLost ? "NO DATA" : picture.status.temp_c === null ? "no temperature" : temp(picture.status.temp_c);
  const title = visible(`${first ? `! ${first.alarm} · ` : ""}${shown} · ${picture.about.title}`);
  if (document.title !== title) document.title = title;
}

// Once in five minutes, and at every new segment, a screen reader hears where the heat stands.
function summarise(picture, isLost) {
  const { status } = picture;
  const nowMs = performance.now();
  if (isLost || (status.segment === summarySaid && nowMs - summaryAtMs < SUMMARY_EVERY_MS)) return;
  summarySaid = status.segment;
  summaryAtMs = nowMs;
  const hot = status.temp_c === null ? "no temperature" : temp(status.temp_c);
  write(at("quiet-words"), `${hot}, ${picture.present?.name ?? picture.doing}, ramp ${at("ramp").textContent}`);
}

// What a person does

async function send(command, more, words) {
  write(at("answer"), "Sent …");
  const { taken, text } = await order(command, more);
  at("answer").classList.toggle("refused", !taken);
  write(at("answer"), taken && words ? words : text);
  return taken;
}

async function acknowledge(names, alarm) {
  for (const name of names) pending.set(name, performance.now());
  refresh();
  const taken = await send("acknowledge", { alarm }, "Acknowledged. The sound stops; the danger may not be over.");
  if (!taken) for (const name of names) pending.delete(name);
  refresh();
}

at("alarm-list").addEventListener("click", (event) => {
  const name = event.target.closest("button.acknowledge")?.closest("li").dataset.alarm;
  if (name) acknowledge([name], name);
});

for (const place of ["alarms", "happenings"]) listenForWrong(at(place), send);

for (const button of ["acknowledge-all", "bar-acknowledge"]) {
  at(button).addEventListener("click", () => {
    acknowledge(link.picture.alarms.filter((alarm) => alarm.waits).map((alarm) => alarm.alarm), "");
  });
}

// Marks that move the heat, with what they do to it.
const MOVES = {
  transfer: "The schedule goes on with the transfer: ramp alarms rest until the pot has arrived.",
  arrived: "The transfer ends, and the limits of the next segment hold.",
};

async function mark(button) {
  const { mark: text } = button.dataset;
  const words = button.textContent;
  const tell = async () => {
    button.disabled = true;
    await send("mark", { text }, `Marked: ${words}.`);
    button.disabled = false;
  };
  if (!MOVES[text]) await tell();
  else if ((await ask(`${words}?`, MOVES[text])) !== null) hold(words, tell);
}

for (const place of ["acting", "act-bar"]) {
  at(place).addEventListener("click", (event) => {
    const button = event.target.closest("button[data-mark]");
    if (button) mark(button);
  });
}

listenForAnswers(send);

at("skip-segment").addEventListener("click", async () => {
  const { present, coming } = link.picture;
  const next = coming ? `Then comes ${coming.name}.` : "Then the schedule is done.";
  const text = await ask(`End '${present.name}' now?`, `What it still asks for is not waited for. ${next}`, { needsReason: true });
  if (text) hold(`'${present.name}' ends`, () => send("skip-segment", { text }, "The segment is ended on your word."));
});

at("bar-note").addEventListener("click", () => {
  at("note").focus();
  at("note").scrollIntoView({ block: "center" });
});

function showExample() {
  at("value").placeholder = at("valued").selectedOptions[0].dataset.example;
}
at("valued").addEventListener("change", showExample);
showExample();

at("value-form").addEventListener("submit", async (event) => {
  event.preventDefault();
  const text = `${at("valued").value} ${at("value").value.trim()}`;
  if (await send("mark", { text }, `Marked: ${text}.`)) at("value").value = "";
});

at("spot-form").addEventListener("submit", async (event) => {
  event.preventDefault();
  const figure = (id) => Number(at(id).value.replace(",", "."));
  const spot = {
    reading: `${at("spot-reading").value.trim()} ${units.degree}`,
    set_emissivity: figure("spot-set"),
    emissivity: figure("spot-surface"),
    band: at("spot-band").value.trim(),
    around: at("spot-around").value.trim(),
  };
  if (await send("spot", { spot })) at("spot-reading").value = "";
});

at("afterwards").addEventListener("submit", async (event) => {
  event.preventDefault();
  const kept = [];
  for (const [mark, id, unit] of [["pot-weighs", "pot-weighs", " kg"], ["pot-looks", "pot-looks", ""]]) {
    const text = at(id).value.trim();
    if (!text) continue;
    if (!(await send("mark", { text: `${mark} ${text}${unit}` }, "Kept with the heat."))) break;
    kept.push(text);
    at(id).value = "";
  }
  write(at("afterwards-said"), kept.length ? `Kept with the heat: ${kept.join(", ")}` : at("answer").textContent);
});

at("note-form").addEventListener("submit", async (event) => {
  event.preventDefault();
  const text = at("note").value.trim();
  if (text && (await send("note", { text }, "Noted in the record."))) at("note").value = "";
});

at("silence-known").addEventListener("click", () => {
  isSilenceKnown = true;
  refresh();
});

// What a browser remembers

const remembered = {
  get: (key, otherwise) => {
    try {
      return localStorage.getItem(key) ?? otherwise;
    } catch {
      return otherwise;
    }
  },
  set: (key, value) => {
    try {
      localStorage.setItem(key, value);
    } catch {
      // A browser that may not keep anything asks again next time.
    }
  },
};

function showSound() {
  const word = sound.isOn ? "Sound on" : remembered.get("sound", "off") === "on" ? "Tap for sound" : "Sound off";
  write(at("sound-word"), word);
  at("sound").setAttribute("aria-pressed", String(sound.isOn));
}

at("sound").addEventListener("click", async () => {
  if (sound.isOn) sound.turnOff();
  else await sound.turnOn();
  remembered.set("sound", sound.isOn ? "on" : "off");
  showSound();
});

function showUnit() {
  write(at("unit"), units.degree);
  write(at("spot-unit"), units.degree);
  refresh();
}

at("unit").addEventListener("click", () => {
  units.degree = units.degree === "°C" ? "°F" : "°C";
  remembered.set("degree", units.degree);
  showUnit();
});

const isSystemDark = matchMedia("(prefers-color-scheme: dark)");

function showTheme() {
  const theme = remembered.get("theme", isSystemDark.matches ? "dark" : "light");
  document.documentElement.dataset.theme = theme;
  write(at("theme"), theme === "dark" ? "Light" : "Dark");
  draw();
}

at("theme").addEventListener("click", () => {
  remembered.set("theme", document.documentElement.dataset.theme === "dark" ? "light" : "dark");
  showTheme();
});
isSystemDark.addEventListener("change", showTheme);
// Paper is light.
addEventListener("beforeprint", () => {
  document.documentElement.dataset.theme = "light";
  draw();
});
addEventListener("afterprint", showTheme);

for (const [id, isLate] of [["span-whole", false], ["span-late", true]]) {
  at(id).addEventListener("click", () => {
    chart.isLate = isLate;
    at("span-whole").setAttribute("aria-pressed", String(!isLate));
    at("span-late").setAttribute("aria-pressed", String(isLate));
    draw();
  });
}

// While neither the numerals nor the word that there are none can be seen, a line above the act bar says it.
const inSight = new Set();
const sights = new IntersectionObserver((changes) => {
  for (const { target, isIntersecting } of changes) {
    if (isIntersecting) inSight.add(target.id);
    else inSight.delete(target.id);
  }
  show(at("glance"), inSight.size === 0);
});
for (const id of ["temp", "silence-word"]) sights.observe(at(id));

document.addEventListener("visibilitychange", () => {
  if (document.visibilityState !== "visible") return;
  link.hurry();
  sound.stayAwake();
  refresh();
});
addEventListener("online", () => link.hurry());

units.degree = remembered.get("degree", "°C") === "°F" ? "°F" : "°C";
showTheme();
showUnit();
showSound();
link.open();
setInterval(() => {
  link.watch();
  refresh();
}, 1000);
