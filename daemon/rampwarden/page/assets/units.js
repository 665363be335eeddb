// How quantities read: degrees in the unit a person chose, durations, times of day. Knows no page.

const FAHRENHEIT = "°F";

export const units = { degree: "°C" };

const isFahrenheit = () => units.degree === FAHRENHEIT;

export const shownTemp = (tempC) => (isFahrenheit() ? (tempC * 9) / 5 + 32 : tempC);

// A difference scales and never shifts.
export const shownDifference = (differenceC) => (isFahrenheit() ? (differenceC * 9) / 5 : differenceC);

export const temp = (tempC) => `${Math.round(shownTemp(tempC))} ${units.degree}`;

export const difference = (differenceC) => `${Math.round(shownDifference(differenceC))} ${units.degree}`;

// The watch words everything in °C, and tells beside it how each sentence reads in °F: figures are never turned here.
const turned = new Map();
const MOST_TURNED = 4000;

export function learnTurned(sentences) {
  for (const [celsius, fahrenheit] of Object.entries(sentences ?? {})) turned.set(celsius, fahrenheit);
  for (const oldest of turned.keys()) {
    if (turned.size <= MOST_TURNED) break;
    turned.delete(oldest);
  }
}

// What is still shown is kept for longest: a sentence is told once, and stands for hours.
export function inUnit(words) {
  const fahrenheit = turned.get(words);
  if (fahrenheit === undefined) return words;
  turned.delete(words);
  turned.set(words, fahrenheit);
  return isFahrenheit() ? fahrenheit : words;
}

// Slow segments are steered by the hour, fast ones by the minute; ten degrees a minute is where people change over.
export function rampScale(boundCPerS) {
  const perHour = Math.abs(boundCPerS) < 10 / 60;
  const factor = shownDifference(perHour ? 3600 : 60);
  return { factor, unit: `${units.degree}/${perHour ? "h" : "min"}` };
}

export function signed(value) {
  const whole = Math.round(value) || 0;
  return whole > 0 ? `+${whole}` : whole < 0 ? `−${-whole}` : "0";
}

export function duration(seconds) {
  const whole = Math.round(seconds);
  if (whole < 60) return `${whole} s`;
  if (whole < 600 && whole % 60) return `${Math.floor(whole / 60)} min ${whole % 60} s`;
  const minutes = Math.round(whole / 60);
  const hours = Math.floor(minutes / 60);
  if (!hours) return `${minutes} min`;
  return minutes % 60 ? `${hours} h ${minutes % 60} min` : `${hours} h`;
}

const two = (number) => String(number).padStart(2, "0");

export function heatTime(seconds) {
  const whole = Math.max(0, Math.floor(seconds));
  return `${Math.floor(whole / 3600)}:${two(Math.floor(whole / 60) % 60)}`;
}

export const timeOfDay = (date, withSeconds = false) =>
  `${two(date.getHours())}:${two(date.getMinutes())}${withSeconds ? `:${two(date.getSeconds())}` : ""}`;
