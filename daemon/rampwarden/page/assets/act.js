// What changes the heat: asked about first, then held back for a few seconds in which one tap takes it back. The watch has
// no way back from a segment it has left, so the way back is before it is told.

import { at, show, write } from "./view.js";

const HELD_MS = 5000;

let held = null;

// Asks, and gives the reason typed ("" where none is asked for), or null for no.
export function ask(words, why, { needsReason = false } = {}) {
  const dialog = at("sure");
  write(at("sure-words"), words);
  write(at("sure-why"), why);
  show(at("sure-reason"), needsReason);
  at("reason").value = "";
  at("reason").required = needsReason;
  dialog.returnValue = "no";
  dialog.showModal();
  return new Promise((answer) => {
    dialog.addEventListener("close", () => answer(dialog.returnValue === "yes" ? at("reason").value.trim() : null), { once: true });
  });
}

// Holds an order back: `tell` is called when the time is over, or the page goes out of sight.
export function hold(words, tell) {
  flush();
  held = { words, tell, untilMs: performance.now() + HELD_MS, timer: setTimeout(flush, HELD_MS) };
  showHeld();
}

export function flush() {
  if (held === null) return;
  const { tell, timer } = held;
  clearTimeout(timer);
  held = null;
  showHeld();
  tell();
}

export function showHeld() {
  show(at("held"), held !== null);
  if (held === null) return;
  const leftS = Math.max(1, Math.ceil((held.untilMs - performance.now()) / 1000));
  write(at("held-words"), `${held.words} in ${leftS} s`);
}

at("held-undo").addEventListener("click", () => {
  if (held === null) return;
  clearTimeout(held.timer);
  held = null;
  showHeld();
  write(at("answer"), "Taken back: the watch was not told.");
});
document.addEventListener("visibilitychange", () => {
  if (document.visibilityState === "hidden") flush();
});
addEventListener("pagehide", flush);
