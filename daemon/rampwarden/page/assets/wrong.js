// "That was wrong": the button beside whatever the watch has said, and the line in which it can be taken back. Nothing is
// asked beforehand: one tap withdraws, one more undoes it.

import { at, show, write } from "./view.js";

// So long the line stays beside the alarms; afterwards the statement itself still has its button.
const OFFERED_MS = 20_000;
// What an order may hold; a message is known by its beginning.
const LONGEST_TEXT = 500;

let offered = null;
let offeredAtMs = 0;

const key = (said) => `${said.time_s}/${said.alarm}/${said.text}`;

// Gives the set of what was withdrawn, to ask with `isWithdrawn`.
export const withdrawnOf = (picture) => new Set(picture.withdrawn.map(key));
export const isWithdrawn = (said, withdrawn) => withdrawn.has(key(said));

// Of one alarm only what was said last can be answered: an order names the alarm.
export function answerable(happenings) {
  const newest = new Map();
  for (const each of happenings) if (each.is_statement) newest.set(each.alarm || key(each), each);
  return new Set(newest.values());
}

export function fillWrong(button, said, undoes, words) {
  button.dataset.order = undoes ? "undo-wrong" : "wrong";
  button.dataset.alarm = said.alarm;
  button.dataset.text = said.alarm ? "" : said.text.slice(0, LONGEST_TEXT);
  write(button, undoes ? "Take that back" : words);
  button.setAttribute("aria-label", undoes ? `${said.alarm || said.text}: it was right after all` : `${said.alarm || said.text}: that was wrong`);
}

// Listens in `root`; `send` gives an order to the watch and tells whether it was taken.
export function listenForWrong(root, send) {
  root.addEventListener("click", async (event) => {
    const button = event.target.closest("button.wrong");
    if (!button) return;
    const { order, alarm, text } = button.dataset;
    button.disabled = true;
    const undoes = order === "undo-wrong";
    const taken = await send(order, { alarm, text }, undoes ? "It stands after all." : "Withdrawn, and noted in the record.");
    button.disabled = false;
    if (taken) offer(undoes ? null : { alarm, text });
  });
}

function offer(said) {
  offered = said;
  offeredAtMs = performance.now();
  showOffer();
}

// Called each second, so that the line goes when its time is over.
export function showOffer() {
  if (offered && performance.now() - offeredAtMs > OFFERED_MS) offered = null;
  show(at("undo"), offered !== null);
  if (offered === null) return;
  write(at("undo-words"), `Withdrawn: ${offered.alarm || offered.text}`);
  fillWrong(at("undo-wrong"), offered, true, "");
}
