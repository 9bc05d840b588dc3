// Readings of packs, noise and notes, each with its time; and the checklist.

import * as days from "./day.js";
import {uuid} from "./keep.js";
import {ask, at, button, emptied, fill, made, say, show} from "./screen.js";
import {named, put, sorted, state} from "./state.js";
import {clock, numberOf, numeral, span, utc} from "./words.js";

const OTHER = "other";
const SECTIONS = {before: "Before leaving", pack: "To pack", arrival: "On arrival", leaving: "Before leaving the site"};

// The newest reading of a pack, of today or from before; null if there is none.
function newest(pack) {
  return state.day.readings.findLast((one) => one.pack === pack) ?? state.board.gear.packs.find((one) => one.pk === pack)?.last ?? null;
}

export const readingText = (one) => `${numeral(one.voltage_v)} V${one.current_a === null || one.current_a === undefined ? "" : `, ${numeral(one.current_a)} A`}`;
const remarkText = (one) => (one.about === "noise" ? `noise S${numeral(one.value)}` : one.about === "voltage" ? `supply ${numeral(one.value)} V` : one.text);

function drawPacks() {
  const {board, day} = state;
  const select = at("measure").elements.pack;
  const used = (day.running ?? day.stints.at(-1) ?? board.last_stint)?.pack;
  const wanted = [...sorted(board.gear.packs).map((one) => [String(one.pk), one.name]), [OTHER, "another source"]];
  if (select.dataset.of !== JSON.stringify([wanted, used])) { // a choice made by hand stays until the set-up changes
    select.dataset.of = JSON.stringify([wanted, used]);
    select.replaceChildren(...wanted.map(([value, textContent]) => made("option", {value, textContent, selected: value === String(used)})));
  }
  drawNewest();
}

function drawNewest() {
  const one = newest(Number(at("measure").elements.pack.value));
  const ago = one && Date.now() - Date.parse(one.at);
  at("newest").textContent = one ? `Last: ${readingText(one)}, ${one.doing}, ${ago < 86_400_000 ? `${span(ago)} ago` : `on ${one.at.slice(0, 10)}`}. ` : "";
}

export function draw() {
  drawPacks();
  at("energy").textContent = state.board.energy ?? ""; // boards from before there was one have none
  const {readings, remarks} = state.day;
  const lines = [
    ...readings.map((one) => ["reading", one, `${named("pack", one.pack)} ${readingText(one)}, ${one.doing}`]),
    ...remarks.map((one) => ["remark", one, remarkText(one)]),
  ].sort((a, b) => (a[1].at < b[1].at ? 1 : -1)).slice(0, 30);
  fill(at("measured"), lines.map(([kind, row, text]) => {
    const line = button("", () => remove(kind, row.uuid, text));
    line.dataset.row = row.uuid;
    line.append(made("span", {className: "mono", textContent: clock(row.at)}), made("span", {textContent: text}));
    return made("li", {}, line);
  }));
}

async function remove(kind, subject, text) {
  const row = state.day[`${kind}s`].find((one) => one.uuid === subject); // as it is now
  const gone = made("button", {type: "button", value: "delete", className: "danger wide", textContent: "Delete this"});
  const chosen = await ask(`${clock(row.at)} UTC`, [made("p", {textContent: text}), gone], {ok: "", extra: [gone]});
  if (!chosen) return;
  const values = {...row, outing: state.day.outing.uuid};
  await put([{...days.act(kind, row, values, state.day.outing.uuid), action: "delete"}], "Deleted");
}

async function measure(event) {
  event.preventDefault();
  const form = event.target.elements;
  const volts = numberOf(form.voltage_v.value);
  if (volts === null || volts < 0 || volts > 1000) {
    form.voltage_v.focus();
    say("Give the voltage in volts", "bad");
    return;
  }
  const now = {outing: state.day.outing.uuid, at: utc(new Date())};
  const act = form.pack.value === OTHER ? {kind: "remark", values: {...now, about: "voltage", value: volts, text: ""}}
    : {kind: "reading", values: {...now, pack: Number(form.pack.value), voltage_v: volts, current_a: numberOf(form.current_a.value), doing: form.doing.value}};
  const bringBack = emptied([form.voltage_v, form.current_a]);
  if (!(await put([{...act, subject: uuid(), base: 0}], `${numeral(volts)} V kept`))) bringBack();
}

async function remark(event, about, value, text, words) {
  const values = {outing: state.day.outing.uuid, at: utc(new Date()), about, value, text};
  const bringBack = emptied([...event.target.elements].filter((one) => one.name));
  if (!(await put([{kind: "remark", subject: uuid(), base: 0, values}], words))) bringBack();
}

async function noteNoise(event) {
  event.preventDefault();
  const value = numberOf(event.target.elements.value.value);
  if (value === null) say("Give the noise level as a number", "bad");
  else await remark(event, "noise", value, "", "Noise kept");
}

async function noteText(event) {
  event.preventDefault();
  const text = event.target.elements.text.value.trim();
  if (text) await remark(event, "note", null, text, "Note kept");
}

export function drawChecklist() {
  const {checklist} = state.day;
  const focused = document.activeElement?.dataset?.line;
  fill(at("checklist"), Object.entries(SECTIONS).flatMap(([section, title]) => {
    const lines = checklist.filter((line) => line.section === section);
    if (!lines.length) return [];
    const left = lines.filter((line) => !line.ticked_at).length;
    return [made("li", {}, made("h2", {textContent: `${title}${left ? `: ${left} left` : " ✓"}`})), ...lines.map((line) => {
      const box = made("input", {type: "checkbox", defaultChecked: Boolean(line.ticked_at)});
      box.dataset.line = line.uuid;
      box.addEventListener("change", () => tick(line.uuid, box.checked));
      const text = line.quantity > 1 ? `${line.quantity} × ${line.text}` : line.text;
      return made("li", {}, made("label", {}, box, made("span", {textContent: text})));
    })];
  }));
  show(at("no-checklist"), !checklist.length);
  if (focused) document.querySelector(`[data-line="${focused}"]`)?.focus();
}

async function tick(subject, on) {
  const line = state.day.checklist.find((one) => one.uuid === subject); // as it is now
  const {text, section, quantity, position} = line;
  const outing = state.day.outing.uuid;
  const values = {outing, text, section, quantity, position, ticked_at: on ? utc(new Date()) : null};
  await put([days.act("tick", line, values, outing)], on ? "Ticked" : "Unticked");
}

export function begin() {
  at("measure").addEventListener("submit", measure);
  at("measure").elements.pack.addEventListener("change", drawNewest);
  at("noise").addEventListener("submit", noteNoise);
  at("remark").addEventListener("submit", noteText);
}
