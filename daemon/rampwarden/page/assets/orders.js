// What a person tells the watch from here: acknowledge, note, mark. The answer is a promise; what came of it is seen in
// the picture like everything else.

const PATIENCE_MS = 5000;

// Gives { taken, text }, whatever happens.
export async function order(command, more = {}) {
  try {
    const answer = await fetch("/order", {
      method: "POST",
      headers: { "Content-Type": "application/json" },
      body: JSON.stringify({ command, ...more }),
      signal: AbortSignal.timeout(PATIENCE_MS),
    });
    return await answer.json();
  } catch {
    return { taken: false, text: "It has not reached the watch. Try again, or go to the furnace." };
  }
}
