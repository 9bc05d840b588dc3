// What the operator types and reads, as values and as words: calls, times, frequencies, powers. Pure.

import {family} from "./day.js";

const CALL = /^[A-Z0-9?]{1,15}(?:\/[A-Z0-9?]{1,10}){0,3}$/u;

// A call sign as it is kept; null where it is none. A “?” stands for what was not copied.
export function callOf(typed) {
  const call = typed.toUpperCase().replace(/\s+/gu, "");
  return CALL.test(call) && call.length >= 3 ? call : null;
}

// UTC as the server reads it; whole seconds unless asked for more.
export function utc(date, {fraction = false} = {}) {
  const text = date.toISOString();
  return fraction ? text : `${text.slice(0, 19)}Z`;
}

// HHMM or HHMMSS to {when, seconds}, the last time that it was so; empty is now; null where it is no time.
export function momentOf(typed, now) {
  if (!typed) return {when: utc(now), seconds: true};
  const match = /^([01][0-9]|2[0-3])([0-5][0-9])([0-5][0-9])?$/u.exec(typed.replaceAll(":", ""));
  if (!match) return null;
  const when = new Date(now);
  when.setUTCHours(Number(match[1]), Number(match[2]), Number(match[3] ?? 0), 0);
  if (when - now > 60_000) when.setUTCDate(when.getUTCDate() - 1); // typed after UTC midnight: it was before it
  return {when: utc(when), seconds: Boolean(match[3])};
}

export function bandOf(hertz, bandEdges) {
  return bandEdges.find(([, low, high]) => hertz >= low && hertz <= high)?.[0] ?? "";
}

// "14285", "14.285", "14285 kHz" or "20m" to {band, frequency_hz}; null where it is none.
export function tuning(typed, bandEdges) {
  const text = typed.trim().toLowerCase().replace(",", ".");
  const band = bandEdges.find(([name]) => name.toLowerCase() === text.replaceAll(" ", ""));
  if (band) return {band: band[0], frequency_hz: null};
  const match = /^([0-9]+(?:\.[0-9]+)?) *(khz|mhz)?$/u.exec(text);
  if (!match) return null;
  const given = Number(match[1]);
  const choices = match[2] === "khz" ? [1e3] : match[2] === "mhz" ? [1e6] : text.includes(".") ? [1e6, 1e3] : [1e3, 1e6];
  const inBand = choices.map((unit) => Math.round(given * unit)).find((hertz) => bandOf(hertz, bandEdges));
  const hertz = inBand ?? Math.round(given * choices[0]);
  return {band: bandOf(hertz, bandEdges), frequency_hz: hertz};
}

// A number as the operator reads it: the page has the sign for decimals from the board.
export const numeral = (value) => String(value).replace(".", document.documentElement.dataset.decimals ?? ".");

export function frequencyText(hertz) {
  return hertz ? `${numeral(Number((hertz / 1e6).toFixed(4)))} MHz` : "";
}

// "5", "500 mW" to watts; null where it is none.
export function watts(typed) {
  const match = /^([0-9]+(?:[.,][0-9]+)?) *(mw|w)?$/iu.exec(typed.trim());
  if (!match) return null;
  return Number(match[1].replace(",", ".")) / (match[2]?.toLowerCase() === "mw" ? 1000 : 1);
}

export function powerText(power) {
  return power === null || power === undefined ? "" : power < 1 ? `${Math.round(power * 1000)} mW` : `${numeral(power)} W`;
}

// A number as typed, with a point or a comma; null where it is none.
export function numberOf(typed) {
  const found = Number(typed.trim().replace(",", "."));
  return typed.trim() && Number.isFinite(found) ? found : null;
}

// The report that is usual for a mode.
export function usualReport(mode, submode, phoneModes) {
  if (mode === "CW" || mode === "RTTY" || /^PSK/u.test(submode ?? "")) return "599";
  return family(mode, phoneModes) === "phone" ? "59" : "";
}

// What is said for a mode and how the standard writes it (ADIF: USB and LSB are submodes of SSB, FT4 of MFSK).
export function modeOf(name) {
  const of = {USB: "SSB", LSB: "SSB", FT4: "MFSK", PSK31: "PSK"}[name];
  return of ? {mode: of, submode: name} : {mode: name, submode: ""};
}

export function span(milliseconds) {
  if (milliseconds === null) return "–";
  const minutes = Math.floor(Math.abs(milliseconds) / 60_000);
  const text = minutes < 60 ? `${minutes} min` : `${Math.floor(minutes / 60)} h ${String(minutes % 60).padStart(2, "0")}`;
  return milliseconds < 0 ? `${text} ago` : text;
}

// The time of a moment as it is logged: 14:05.
export const clock = (moment) => moment.slice(11, 16);

export const plural = (count, one, more = `${one}s`) => `${count} ${count === 1 ? one : more}`;
