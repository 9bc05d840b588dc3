// The field page: what the operator sees and touches. What is typed goes to `keep` first and is shown as kept only then.

import * as adif from "./adif.js";
import * as days from "./day.js";
import * as handing from "./hand_in.js";
import {Keep, utc, uuid} from "./keep.js";
import {centreOf, way} from "./place.js";

const VERSION = document.body.dataset.version;
const REMIND_EVERY = 25; // contacts, or an hour, after which a copy is asked for while nothing is handed in
const HOUR = 3_600_000;
const keep = new Keep();
const at = (id) => document.getElementById(id);
const show = (node, visible) => { node.hidden = !visible; };

let board = null; // what came from the server
let acts = []; // what was typed on this phone
let entries = []; // of these, what the board does not have yet
let day = null; // both together
let storing = 0;
let showAll = false;
let handingIn = false;
let lastCopy = {count: 0, at: Date.now()};
const standing = new Map();

function made(tag, properties = {}, ...children) {
  const node = Object.assign(document.createElement(tag), properties);
  node.append(...children);
  return node;
}

// A warning that stands until it is over, with a link if need be; empty words take it away.
function stand(name, words, link = []) {
  if (words) standing.set(name, [words, link]);
  else standing.delete(name);
  at("standing").replaceChildren(...[...standing.values()].map(([text, [href, called]]) => made("p", {}, text,
    ...(href ? [" ", made("a", {href, textContent: called})] : []))));
}

function named(kind, pk) {
  const rows = {radio: "radios", arrangement: "arrangements", pack: "packs"}[kind];
  const found = board?.gear[rows].find((one) => one.pk === pk);
  return !found ? "" : kind === "arrangement" ? `${found.antenna}: ${found.name}` : found.name;
}

function usualReport(mode, submode = "") {
  if (mode === "CW" || mode === "RTTY" || /^PSK/u.test(submode)) return "599";
  return days.family(mode, board?.phone_modes ?? []) === "phone" ? "59" : "";
}

function bandOf(hertz) {
  return board.band_edges.find(([, low, high]) => hertz >= low && hertz <= high)?.[0] ?? "";
}

// "14285", "14.285", "14285 kHz" or "20m" to {band, frequency_hz}; null where it is none.
function tuning(typed) {
  const text = typed.trim().toLowerCase().replace(",", ".");
  const named_ = board.band_edges.find(([name]) => name.toLowerCase() === text.replaceAll(" ", ""));
  if (named_) return {band: named_[0], frequency_hz: null};
  const match = /^([0-9]+(?:\.[0-9]+)?) *(khz|mhz)?$/u.exec(text);
  if (!match) return null;
  const number = Number(match[1]);
  const choices = match[2] === "khz" ? [1e3] : match[2] === "mhz" ? [1e6] : text.includes(".") ? [1e6, 1e3] : [1e3, 1e6];
  const inBand = choices.map((unit) => Math.round(number * unit)).find((hertz) => bandOf(hertz));
  const hertz = inBand ?? Math.round(number * choices[0]);
  return {band: bandOf(hertz), frequency_hz: hertz};
}

const powerText = (watts) => (watts === null || watts === undefined ? "" : watts < 1 ? `${Math.round(watts * 1000)} mW` : `${watts} W`);

// "5", "500 mW" to watts; null where it is none.
function watts(typed) {
  const match = /^([0-9]+(?:[.,][0-9]+)?) *(mw|w)?$/iu.exec(typed.trim());
  if (!match) return null;
  return Number(match[1].replace(",", ".")) / (match[2]?.toLowerCase() === "mw" ? 1000 : 1);
}

function span(milliseconds) {
  if (milliseconds === null) return "–";
  const minutes = Math.floor(Math.abs(milliseconds) / 60_000);
  const text = minutes < 60 ? `${minutes} min` : `${Math.floor(minutes / 60)} h ${String(minutes % 60).padStart(2, "0")}`;
  return milliseconds < 0 ? `${text} ago` : text;
}

// Keep acts and show them; the screen says so only once the store has them.
async function put(wanted, words) {
  storing += 1;
  say("Keeping …");
  try {
    take(await keep.write(wanted.map((one) => ({...one, outing: board.outing.uuid}))));
    say(words);
    await tellKept();
    return true;
  } catch (problem) {
    if (!problem.journalled) {
      say("NOT kept", "bad");
      stand("store", "This phone takes nothing more: write it on paper, then save a copy.");
      return false;
    }
    take(problem.journalled.map(({id}) => keep.adrift.get(id))); // it comes into the store when that takes it
    say(`${words}, in the journal only`);
    await tellKept();
    return true;
  } finally {
    storing -= 1;
  }
}

// Show entries that were kept just now, each once: they may have been read from the store meanwhile.
function take(kept) {
  const known = new Set(acts.map((entry) => entry.id));
  const fresh = kept.filter((entry) => !known.has(entry.id));
  acts.push(...fresh);
  entries.push(...fresh);
  again();
}

// The same work, begun only when the one before is kept: a thumb is quicker than the store.
function inTurn(work) {
  let before = Promise.resolve();
  return () => { before = before.then(work, work); };
}

// What became of the last act; it stays until the next one.
function say(words, state = "") {
  at("did").textContent = words ? `${words}. ` : "";
  at("did").className = state;
}

// How much is on this phone only.
async function tellKept() {
  let waiting;
  try { waiting = await keep.waitingCount(); } catch { waiting = null; } // the store does not answer: that stands below
  at("kept").className = waiting === 0 ? "kept clear" : "kept waits";
  at("left").textContent = waiting === 0 ? "All handed in" : waiting ? `${waiting} on this phone only` : "On this phone only";
  stand("adrift", keep.adrift.size ? `${keep.adrift.size} entries are in the journal only, since this phone’s store does not take them. Save a copy, then close and open the page.` : "");
  remind();
}

function remind() {
  const mine = entries.filter((entry) => entry.kind === "contact" && entry.status !== "taken").length;
  const due = mine && (mine - lastCopy.count >= REMIND_EVERY || (mine > lastCopy.count && Date.now() - lastCopy.at > HOUR));
  stand("copy", due ? `${mine} contacts are on this phone only. Save a copy (under “Hand in”), so that a lost phone loses nothing.` : "");
}

// ---------------------------------------------------------------------------------------------------- the state shown

function again() {
  day = days.dayOf(board, entries);
  drawOnAir();
  drawContacts();
  drawMeasured();
  drawChecklist();
  drawCounters();
}

function drawOnAir() {
  const stint = day.running;
  const paused = days.openPause(stint);
  const line = at("on-air");
  line.replaceChildren();
  if (stint) {
    const where = stint.frequency_hz ? `${Number((stint.frequency_hz / 1e6).toFixed(4))} MHz` : "";
    const said = [`${stint.band || "out of band"} ${stint.submode || stint.mode}`, where, powerText(stint.power_w), stint.calling];
    const gear = [named("arrangement", stint.arrangement), named("pack", stint.pack) || stint.other_source, named("radio", stint.radio)];
    if (stint.swr_at_radio) gear.push(`SWR ${stint.swr_at_radio}`);
    line.append(`${paused ? "Paused: " : ""}${said.filter(Boolean).join(" · ")}`, made("small", {textContent: gear.filter(Boolean).join(" · ")}));
  } else {
    line.append("Nothing is on the air.", made("small", {textContent: "Contacts can be kept all the same; without a stint they count in no rate."}));
  }
  at("change").textContent = stint ? "Change" : "Go on the air";
  at("pause").textContent = paused ? "Go on" : "Pause";
  show(at("pause"), Boolean(stint));
  show(at("stop"), Boolean(stint));
  const usual = stint ? usualReport(stint.mode, stint.submode) : "59";
  for (const name of ["rst_sent", "rst_rcvd"]) at("entry").elements[name].placeholder = usual;
  at("which-pack").textContent = (stint && named("pack", stint.pack)) || "no pack: choose one with “Change”";
  const serial = at("entry").querySelector(".serial");
  show(serial, board.outing.exchange === "serial");
}

function contactButton(contact) {
  const button = made("button", {type: "button", className: contact.status && contact.status !== "taken" ? "waits" : ""});
  const stint = day.stints.find((one) => one.uuid === contact.stint);
  button.append(
    made("span", {className: "mono", textContent: contact.started_at.slice(11, 16)}),
    made("span", {className: "call", textContent: contact.call}),
    made("span", {textContent: [contact.band || stint?.band, contact.submode || contact.mode, contact.pending ? "doubtful" : ""].filter(Boolean).join(" ")}),
  );
  button.setAttribute("aria-label", `Edit ${contact.call} at ${contact.started_at.slice(11, 16)} UTC`);
  button.addEventListener("click", () => editContact(contact));
  return made("li", {}, button);
}

function drawContacts() {
  const newest = [...day.contacts].reverse();
  at("contacts").replaceChildren(...(showAll ? newest : newest.slice(0, 12)).map(contactButton));
  show(at("all-contacts"), !showAll && newest.length > 12);
  at("all-contacts").textContent = `Show all ${newest.length}`;
  at("undo").disabled = !days.takeBack(board, day, acts);
}

function drawMeasured() {
  const readings = day.readings.map((one) => [one.at, `${named("pack", one.pack)} ${one.voltage_v} V${one.current_a === null || one.current_a === undefined ? "" : `, ${one.current_a} A`}, ${one.doing}`]);
  const remarks = day.remarks.map((one) => [one.at, one.about === "noise" ? `noise S${one.value}` : one.text]);
  const lines = [...readings, ...remarks].sort((a, b) => (a[0] < b[0] ? 1 : -1)).slice(0, 30);
  at("measured").replaceChildren(...lines.map(([when, text]) => made("li", {}, made("span", {className: "mono", textContent: `${when.slice(11, 16)} `}), text)));
}

const SECTIONS = {before: "Before leaving", pack: "To pack", arrival: "On arrival", leaving: "Before leaving the site"};

function drawChecklist() {
  const focused = document.activeElement?.dataset?.line;
  at("checklist").replaceChildren(...Object.entries(SECTIONS).flatMap(([section, title]) => {
    const lines = day.checklist.filter((line) => line.section === section);
    if (!lines.length) return [];
    return [made("li", {}, made("h2", {textContent: title})), ...lines.map((line) => {
      const box = made("input", {type: "checkbox", checked: Boolean(line.ticked_at)});
      box.dataset.line = line.uuid;
      box.addEventListener("change", () => tick(line, box.checked));
      const text = line.quantity > 1 ? `${line.quantity} × ${line.text}` : line.text;
      return made("li", {}, made("label", {}, box, made("span", {textContent: text})));
    })];
  }));
  show(at("no-checklist"), !day.checklist.length);
  if (focused) document.querySelector(`[data-line="${focused}"]`)?.focus();
}

function tick(line, on) {
  const {text, section, quantity, position} = line;
  put([days.act("tick", line, {outing: day.outing.uuid, text, section, quantity, position, ticked_at: on ? utc(new Date()) : null}, day.outing.uuid)],
    on ? "Ticked" : "Unticked");
}

function drawCounters() {
  const now = Date.now();
  const count = days.counters(day, now);
  const light = days.nextLight(board, now);
  const today = utc(new Date(now)).slice(0, 10);
  const cells = [
    ["contacts", count.goal ? `${count.contacts} of ${count.goal}` : String(count.contacts), count.pending ? `${count.pending} doubtful` : ""],
    ["past hour", String(count.pastHour), count.hourIsWhole ? "" : "not a full hour yet"],
    ["newest ten", count.newestTenMinutes === null ? "–" : `${Math.round(count.newestTenMinutes)} min`, ""],
    ["on the air", span(count.onAirSeconds * 1000), ""],
    ["sunset in", light.sunset ? span(light.sunset - now) : "none soon", light.dusk ? `dusk in ${span(light.dusk - now)}` : ""],
    ["window ends", day.outing.window_end ? span(Date.parse(day.outing.window_end) - now) : "open", ""],
  ];
  const change = days.utcDayChange(now) - now;
  const perDay = count.days.map(([name, number]) => `${name.slice(5)}: ${number}`).join(", ");
  cells.push(["UTC day", `changes in ${span(change)}`,
    `${change < 2 * HOUR ? `From then on a station worked before counts anew, and so does the day (${today} ends). ` : ""}${perDay ? `Contacts by UTC day: ${perDay}` : ""}`, true]);
  at("counters").replaceChildren(...cells.map(([name, value, small, wide]) => {
    const dd = made("dd", {textContent: value});
    if (small) dd.append(made("small", {textContent: small}));
    return made("div", {className: wide ? "wide" : ""}, made("dt", {textContent: name}), dd);
  }));
  askForgotten(now);
}

function askForgotten(now) {
  const left = days.forgotten(day, now);
  const box = at("forgotten");
  if (!left) { show(box, false); box.dataset.stint = ""; return; }
  if (box.dataset.stint === left.stint.uuid && !box.hidden) return;
  if (box.dataset.waits && Number(box.dataset.waits) > now) return;
  box.dataset.stint = left.stint.uuid;
  const end = left.lastContactAt ?? left.since;
  const stopThen = made("button", {type: "button", textContent: `It ended at ${utc(new Date(end)).slice(11, 16)}`});
  stopThen.addEventListener("click", () => put(days.stopStint(day, utc(new Date(end + 1000))), "Stopped"));
  const goesOn = made("button", {type: "button", textContent: "Still on the air"});
  goesOn.addEventListener("click", () => { box.dataset.waits = String(Date.now() + 20 * 60_000); show(box, false); });
  box.replaceChildren(made("p", {textContent: "No contact for 20 minutes. Still on the air?"}), made("div", {className: "thumb-row"}, goesOn, stopThen));
  show(box, true);
}

// --------------------------------------------------------------------------------------------------- logging a contact

function typedMoment(text) {
  const now = new Date();
  if (!text) return {when: utc(now), seconds: true};
  const match = /^([01][0-9]|2[0-3])([0-5][0-9])([0-5][0-9])?$/u.exec(text.replace(":", ""));
  if (!match) return null;
  const when = new Date(now);
  when.setUTCHours(Number(match[1]), Number(match[2]), Number(match[3] ?? 0), 0);
  if (when - now > 60_000) when.setUTCDate(when.getUTCDate() - 1); // typed after UTC midnight: it was before it
  return {when: utc(when), seconds: Boolean(match[3])};
}

function typedContact() {
  const form = at("entry").elements;
  const call = form.call.value.toUpperCase().replace(/\s+/gu, "");
  const moment = typedMoment(form.time.value.trim());
  const when = moment?.when ?? utc(new Date());
  const typed = Boolean(form.time.value.trim());
  const covering = typed || !day.running ? days.stintAt(day, when, moment?.seconds ?? true) : day.running;
  const stint = covering ?? day.running ?? day.stints.at(-1); // without one that covers it, as the others were made
  const value = (name) => form[name].value.trim();
  return {
    moment, call, stint: covering?.uuid ?? null, pending: call.includes("?"), started_at: when,
    seconds_known: moment?.seconds ?? true, band: stint?.band ?? "", frequency_hz: stint?.frequency_hz ?? null,
    mode: stint?.mode ?? "", submode: stint?.submode ?? "", power_w: stint?.power_w ?? null,
    rst_sent: value("rst_sent") || usualReport(stint?.mode, stint?.submode), rst_rcvd: value("rst_rcvd") || usualReport(stint?.mode, stint?.submode),
    their_grid: value("their_grid"), their_reference: value("their_reference").toUpperCase(), name: value("name"),
    state: value("state").toUpperCase(), comment: value("comment"), station_call: day.outing.station_call,
    serial_rcvd: /^[0-9]{1,6}$/u.test(value("serial_rcvd")) ? Number(value("serial_rcvd")) : null,
    exchange_sent: board.outing.exchange === "location" ? board.outing.exchange_text : "",
    serial_sent: board.outing.exchange === "serial" ? 1 + Math.max(0, ...day.contacts.map((one) => one.serial_sent ?? 0)) : null,
  };
}

function tell() {
  const line = at("told");
  line.className = "told";
  const contact = typedContact();
  if (!contact.call) { line.textContent = ""; return; }
  const said = [];
  if (day.running && contact.moment && !contact.stint) said.push(`Nothing was on the air at ${contact.started_at.slice(11, 16)}; it will be in no stint.`);
  if (contact.call.length >= 3) {
    const repeated = days.repeats(board, day, contact);
    if (repeated.length) {
      line.className = "told repeat";
      said.push(`Again: ${repeated[0].call} at ${repeated[0].started_at.slice(11, 16)} on ${repeated[0].band}. It can be kept all the same.`);
    }
    const before = days.earlier(board, contact.call);
    if (before) said.push(`Worked ${before.k} times before, last on ${before.t} ${before.b} ${before.m}${before.n ? `, ${before.n}` : ""}${before.g ? `, ${before.g}` : ""}.`);
  }
  const there = centreOf(contact.their_grid);
  if (there) {
    const {km, bearing} = way({latitude: board.outing.site.latitude_deg, longitude: board.outing.site.longitude_deg}, there);
    said.push(`About ${Math.round(km / 10) * 10} km towards ${Math.round(bearing)}°.`);
  } else if (contact.their_grid) said.push("That is no grid square.");
  line.textContent = said.join(" ");
}

async function logContact(event) {
  event.preventDefault();
  const form = at("entry");
  const contact = typedContact();
  const refuse = (words, field) => {
    at("told").className = "told bad";
    at("told").textContent = words;
    form.elements[field].focus();
  };
  if (!/^[A-Z0-9?]{1,15}(?:\/[A-Z0-9?]{1,10}){0,3}$/u.test(contact.call) || contact.call.length < 3) {
    refuse("A call sign has letters, digits and slashes, at least three signs; “?” for what was not copied.", "call");
    return;
  }
  if (!contact.moment) { refuse("The time is HHMM or HHMMSS in UTC, or empty for now.", "time"); return; }
  if (contact.their_grid && !centreOf(contact.their_grid)) { refuse("That is no grid square; leave it empty if unsure.", "their_grid"); return; }
  const {moment: _, ...values} = contact;
  const typed = [...form.elements].filter((one) => one.name).map((one) => [one, one.value]);
  form.reset(); // at once: the next one may be typed before this one is kept
  at("told").textContent = "";
  form.elements.call.focus();
  wake();
  const act = {kind: "contact", subject: uuid(), values: days.contactValues(day.outing.uuid, values), base: 0};
  if (!(await put([act], `${contact.call} kept`)) && !form.elements.call.value) {
    for (const [one, value] of typed) one.value = value;
  }
}

function field(label, name, value, options = {}) {
  const input = made("input", {name, value: value ?? "", ...options});
  return made("label", {}, `${label} `, input);
}

function choice(label, name, value, options) {
  const select = made("select", {name});
  for (const [key, text] of options) select.append(made("option", {value: key, textContent: text, selected: String(key) === String(value ?? "")}));
  return made("label", {}, `${label} `, select);
}

// Ask in a sheet from below; resolves with the form's values, null when cancelled. `check(values)` gives words against.
function ask(title, body, {ok = "OK", check = () => "", extra = []} = {}) {
  const sheet = at("sheet");
  at("sheet-title").textContent = title;
  const wrong = made("p", {className: "told bad", role: "alert", hidden: true});
  at("sheet-body").replaceChildren(wrong, ...body);
  at("sheet-ok").textContent = ok;
  return new Promise((resolve) => {
    const form = sheet.querySelector("form");
    const done = (result) => {
      form.removeEventListener("submit", submitted);
      sheet.removeEventListener("cancel", cancelled);
      sheet.close();
      resolve(result);
    };
    const cancelled = () => done(null);
    const submitted = (event) => {
      event.preventDefault();
      if (event.submitter?.value !== "ok") { done(null); return; }
      const values = Object.fromEntries(new FormData(form));
      const words = check(values);
      if (words) { wrong.textContent = words; wrong.hidden = false; wrong.scrollIntoView(); return; }
      done(values);
    };
    for (const button of extra) button.addEventListener("click", () => done({chosen: button.value}));
    form.addEventListener("submit", submitted);
    sheet.addEventListener("cancel", cancelled);
    sheet.showModal();
  });
}

async function editContact(contact) {
  const remove = made("button", {type: "button", value: "delete", className: "danger wide", textContent: "Delete this contact"});
  const body = [
    field("call", "call", contact.call, {className: "call", maxLength: 30, autocapitalize: "characters"}),
    made("div", {className: "two"},
      field("UTC time, HHMM or HHMMSS", "time", contact.started_at.slice(11, contact.seconds_known === false ? 16 : 19).replaceAll(":", ""), {inputMode: "numeric", maxLength: 6}),
      field("band or frequency", "tuned", contact.frequency_hz ? String(contact.frequency_hz / 1e6) : contact.band, {maxLength: 15}),
      field("sent", "rst_sent", contact.rst_sent, {maxLength: 20}), field("received", "rst_rcvd", contact.rst_rcvd, {maxLength: 20}),
      field("grid", "their_grid", contact.their_grid, {maxLength: 10, autocapitalize: "characters"}),
      field("their reference", "their_reference", contact.their_reference, {maxLength: 60, autocapitalize: "characters"}),
      field("name", "name", contact.name, {maxLength: 80}), field("state or province", "state", contact.state, {maxLength: 20})),
    field("comment", "comment", contact.comment, {maxLength: 255}), remove,
  ];
  const values = await ask(`${contact.call}, ${contact.started_at.slice(0, 10)}`, body, {
    ok: "Keep", extra: [remove],
    check: (typed) => {
      if (!/^[A-Z0-9?]{1,15}(?:\/[A-Z0-9?]{1,10}){0,3}$/iu.test(typed.call.trim())) return "That is no call sign.";
      if (!/^([01][0-9]|2[0-3])[0-5][0-9]([0-5][0-9])?$/u.test(typed.time)) return "The time is HHMM or HHMMSS.";
      if (typed.tuned.trim() && !tuning(typed.tuned)) return "Give a band such as 20m or a frequency such as 14285.";
      if (typed.their_grid.trim() && !centreOf(typed.their_grid)) return "That is no grid square.";
      return "";
    },
  });
  if (!values) return;
  if (values.chosen === "delete") {
    await put([{...days.act("contact", contact, days.contactValues(day.outing.uuid, contact), day.outing.uuid), action: "delete"}], `${contact.call} deleted`);
    return;
  }
  const {time, tuned, ...texts} = values;
  const clock = time.padEnd(6, "0");
  const call = texts.call.toUpperCase().replace(/\s+/gu, "");
  const changed = {
    ...contact, ...texts, call, pending: call.includes("?"), their_reference: texts.their_reference.toUpperCase(),
    state: texts.state.toUpperCase(), started_at: `${contact.started_at.slice(0, 10)}T${clock.slice(0, 2)}:${clock.slice(2, 4)}:${clock.slice(4, 6)}Z`,
    seconds_known: time.length === 6, ...(tuned.trim() ? tuning(tuned) : {band: "", frequency_hz: null}),
  };
  await put([days.act("contact", contact, days.contactValues(day.outing.uuid, changed), day.outing.uuid)], `${call} changed`);
}

// Take the newest act on a contact back: a new one is deleted, an edit returns to what stood before, a deleted one comes back.
async function undo() {
  const found = days.takeBack(board, day, acts);
  if (found) await put([found.act], `${found.last.values.call} taken back`);
}

// ------------------------------------------------------------------------------------------------------- on the air

async function changeOnAir() {
  const stint = day.running;
  const from = stint ?? day.stints.at(-1) ?? {};
  const sorted = (rows) => [...rows].sort((a, b) => Number(b.in_kit) - Number(a.in_kit));
  const options = (rows, text) => [["", "–"], ...sorted(rows).map((one) => [one.pk, text(one)])];
  const radio = board.gear.radios.find((one) => one.pk === from.radio) ?? sorted(board.gear.radios)[0];
  const modes = [...new Set([...(radio?.modes ?? []), from.submode || from.mode, "SSB", "CW", "FM", "FT8"].filter(Boolean))];
  const body = [
    made("div", {className: "two"},
      field("band or frequency", "tuned", from.frequency_hz ? String(from.frequency_hz / 1e6) : from.band ?? board.outing.bands?.[0] ?? "", {maxLength: 15, required: true}),
      choice("mode", "mode", from.submode || from.mode || modes[0], modes.map((mode) => [mode, mode])),
      field("power", "power", from.power_w === null || from.power_w === undefined ? "" : powerText(from.power_w).replace(" W", ""), {maxLength: 12, placeholder: "W, or mW"}),
      choice("calling", "calling", from.calling, [["", "–"], ["calling", "calling"], ["answering", "answering"], ["both", "both"]])),
    choice("arrangement", "arrangement", from.arrangement, options(board.gear.arrangements, (one) => `${one.antenna}: ${one.name}`)),
    made("div", {className: "two"},
      choice("radio", "radio", from.radio ?? radio?.pk, options(board.gear.radios, (one) => one.name)),
      choice("pack", "pack", from.pack, options(board.gear.packs, (one) => one.name)),
      field("other source", "other_source", from.other_source, {maxLength: 40}),
      field("SWR at the radio", "swr", from.swr_at_radio, {inputMode: "decimal", maxLength: 6}),
      choice("tuner", "tuner", from.tuner_in === true ? "in" : from.tuner_in === false ? "out" : "", [["", "–"], ["in", "in line"], ["out", "out"]]),
      field("minutes ago", "ago", "", {inputMode: "numeric", maxLength: 4, placeholder: "0, now"})),
  ];
  const values = await ask(stint ? "What changes?" : "Go on the air", body, {
    ok: stint ? "Change" : "Go",
    check: (typed) => {
      if (!tuning(typed.tuned)) return "Give a band such as 20m or a frequency such as 14285.";
      if (typed.power.trim() && watts(typed.power) === null) return "Give the power in watts, or as 500 mW.";
      if (typed.swr.trim() && !(Number(typed.swr.replace(",", ".")) >= 1)) return "An SWR is 1 or more.";
      if (typed.ago.trim() && !/^[0-9]+$/u.test(typed.ago.trim())) return "Minutes ago is a whole number.";
      const when = Date.now() - 60_000 * Number(typed.ago || 0);
      if (stint && when <= Date.parse(stint.started_at)) return `The stint began at ${stint.started_at.slice(11, 16)}; the change must come after.`;
      return "";
    },
  });
  if (!values) return;
  const {mode, submode} = modeOf(values.mode);
  const changes = {
    ...tuning(values.tuned), mode, submode, power_w: values.power.trim() ? watts(values.power) : null, calling: values.calling,
    arrangement: Number(values.arrangement) || null, radio: Number(values.radio) || null, pack: Number(values.pack) || null,
    other_source: values.other_source.trim(), swr_at_radio: values.swr.trim() ? Number(values.swr.replace(",", ".")) : null,
    tuner_in: values.tuner ? values.tuner === "in" : null,
  };
  const when = utc(new Date(Date.now() - 60_000 * Number(values.ago || 0)));
  await put(days.changeOnAir(day, changes, when, uuid).acts, "On the air");
  wake();
}

// What is said for a mode and how the standard writes it (ADIF: USB and LSB are submodes of SSB, FT4 of MFSK).
function modeOf(name) {
  const of = {USB: "SSB", LSB: "SSB", FT4: "MFSK", PSK31: "PSK"}[name];
  return of ? {mode: of, submode: name} : {mode: name, submode: ""};
}

async function pauseOrGoOn() {
  if (!day.running) return;
  const paused = days.openPause(day.running);
  const now = utc(new Date());
  if (paused) await put([days.act("pause", paused, {...days.pauseValues(paused), ended_at: now}, day.outing.uuid)], "On the air again");
  else await put([{kind: "pause", subject: uuid(), values: {stint: day.running.uuid, started_at: now, ended_at: null}, base: 0}], "Paused");
}

async function stop() {
  const values = await ask("Stop", [field("minutes ago", "ago", "", {inputMode: "numeric", maxLength: 4, placeholder: "0, now"})], {
    ok: "Stop",
    check: (typed) => {
      if (typed.ago.trim() && !/^[0-9]+$/u.test(typed.ago.trim())) return "Minutes ago is a whole number.";
      return Date.now() - 60_000 * Number(typed.ago || 0) <= Date.parse(day.running.started_at) ? "That is before the stint began." : "";
    },
  });
  if (values) await put(days.stopStint(day, utc(new Date(Date.now() - 60_000 * Number(values.ago || 0)))), "Stopped");
}

async function nextSite() {
  const body = [
    choice("site", "site", "", board.sites.filter((site) => site.pk !== board.outing.site.pk).map((site) => [site.pk, `${site.name} (${site.grid.slice(0, 6)})`])),
    made("p", {className: "help", textContent: "This outing is closed; kit and ticks go along to a new one at the next site."}),
  ];
  if (!board.sites.some((site) => site.pk !== board.outing.site.pk)) {
    await ask("No other site", [made("p", {textContent: "There is no other site on board. Sites are made on the laptop."})]);
    return;
  }
  const values = await ask("Go on at the next site", body, {ok: "Go on"});
  if (!values) return;
  const now = utc(new Date());
  const site = board.sites.find((one) => one.pk === Number(values.site));
  const subject = uuid();
  const old = day.outing;
  const outingValues = (outing, more) => ({
    site: outing.site.pk, title: more.title ?? "", station_call: outing.station_call, references: outing.references, window_start: outing.window_start,
    window_end: outing.window_end, started_at: outing.started_at, ended_at: outing.ended_at, kit: outing.kit, bands: outing.bands,
    goal_contacts: outing.goal_contacts, notes: outing.notes, ...more,
  });
  const acts = day.running ? days.stopStint(day, now) : [];
  acts.push({kind: "outing", subject: old.uuid, base: old.revision, values: outingValues(old, {ended_at: now})});
  if (!(await put(acts, "Closed"))) return;
  const next = {
    ...board.outing, uuid: subject, revision: 0, title: site.name, site, references: site.references, window_start: now, started_at: now, ended_at: null,
    window_end: Date.parse(old.window_end) > Date.now() ? old.window_end : null, notes: "",
  };
  const light = board.light;
  const following = {...board, outing: next, stints: [], contacts: [], remarks: [], checklist: [], light, earlierByCall: undefined, made_here: true};
  await keep.keepBoard(following);
  const carried = day.checklist.map((line) => ({
    kind: "tick", subject: uuid(), base: 0,
    values: {outing: subject, text: line.text, section: line.section, quantity: line.quantity, position: line.position, ticked_at: line.ticked_at},
  }));
  await openOuting(subject);
  await put([{kind: "outing", subject, base: 0, values: outingValues(next, {})}, ...carried], `At ${site.name}`);
}

// ----------------------------------------------------------------------------------------------------- measuring

const number = (text) => { const found = Number(text.trim().replace(",", ".")); return text.trim() && Number.isFinite(found) ? found : null; };

async function measure(event) {
  event.preventDefault();
  const form = event.target.elements;
  const volts = number(form.voltage_v.value);
  if (!day.running?.pack || volts === null || volts < 0 || volts > 1000) {
    form.voltage_v.focus();
    say(day.running?.pack ? "Give the voltage in volts" : "Choose a pack with “Change” first", "bad");
    return;
  }
  const values = {outing: day.outing.uuid, pack: day.running.pack, at: utc(new Date()), voltage_v: volts, current_a: number(form.current_a.value), doing: form.doing.value};
  if (await put([{kind: "reading", subject: uuid(), values, base: 0}], `${volts} V kept`)) event.target.reset();
}

async function noteNoise(event) {
  event.preventDefault();
  const value = number(event.target.elements.value.value);
  if (value === null) { say("Give the noise level as a number", "bad"); return; }
  if (await put([{kind: "remark", subject: uuid(), base: 0, values: {outing: day.outing.uuid, at: utc(new Date()), about: "noise", value, text: ""}}], "Noise kept")) event.target.reset();
}

async function noteText(event) {
  event.preventDefault();
  const text = event.target.elements.text.value.trim();
  if (!text) return;
  if (await put([{kind: "remark", subject: uuid(), base: 0, values: {outing: day.outing.uuid, at: utc(new Date()), about: "note", value: null, text}}], "Note kept")) event.target.reset();
}

// ---------------------------------------------------------------------------------------------------- handing in

async function handIn({quietly = false} = {}) {
  if (handingIn) return;
  handingIn = true;
  if (!quietly) say("");
  const bar = at("progress");
  try {
    const result = await handing.handIn(keep, {tell: ({done, total}) => {
      show(bar, total > 0);
      bar.firstElementChild.value = total ? done / total : 1;
      bar.lastElementChild.textContent = `${done} of ${total}`;
    }});
    const parts = [`${result.done} handed in`];
    if (result.refused) parts.push(`${result.refused} refused, see below`);
    if (result.conflicts) parts.push(`${result.conflicts} had been changed elsewhere too; the laptop shows both versions`);
    if (!quietly || result.done || result.refused) at("handed").textContent = `${parts.join("; ")}.`;
    const off = result.clockErrorMs / 1000;
    stand("clock", Math.abs(off) > 30 + result.uncertainMs / 1000
      ? `This phone’s clock is ${Math.round(Math.abs(off))} s ${off > 0 ? "fast" : "slow"} against the server. Set it; the laptop offers to shift the contacts, nothing is shifted by itself.` : "");
    stand("server", "");
    if (result.done && board && !board.made_here) await takeAlong(board.outing.uuid, {silently: true});
  } catch (problem) {
    if (!quietly || problem.problem !== "unreachable") at("handed").textContent = problem.message;
    if (problem.problem === "login") stand("server", "The login has expired. Everything stays on the phone.", ["/login/?next=/field/", "Log in again"]);
    if (problem.problem === "newer") stand("server", problem.message);
  } finally {
    handingIn = false;
    show(bar, false);
    await redraw();
  }
}

// Read and draw what the store has now; where it does not answer, what is shown stays.
async function redraw() {
  try {
    if (board) { await load(); again(); }
    await drawQueue();
  } catch { /* the store has told its trouble */ }
  await tellKept();
}

async function drawQueue() {
  const waiting = await keep.waiting();
  const refused = await keep.waiting("refused");
  at("queue").textContent = waiting.length ? `${waiting.length} entries are on this phone only.` : "Everything typed here is on the server.";
  if (refused.length) {
    const retry = made("button", {type: "button", textContent: "Try the refused ones again"});
    retry.addEventListener("click", async () => { await keep.retryRefused(); await handIn(); });
    at("refused").replaceChildren(made("h2", {textContent: `${refused.length} refused`}),
      made("ul", {}, ...refused.slice(0, 50).map((entry) => made("li", {textContent: `${entry.values?.call ?? entry.kind}: ${entry.reason}`}))), retry);
  } else at("refused").replaceChildren();
}

async function saveCopy() {
  const now = new Date();
  const names = Object.fromEntries(["radio", "arrangement", "pack"].map((kind) => [kind, (pk) => named(kind, pk)]));
  const text = adif.file(day, names, now, VERSION);
  const file = new File([text], adif.fileName(day, now), {type: "text/plain"});
  lastCopy = {count: entries.filter((entry) => entry.kind === "contact" && entry.status !== "taken").length, at: Date.now()};
  await keep.setFact("copy", lastCopy);
  remind();
  if (navigator.canShare?.({files: [file]}) && matchMedia("(pointer: coarse)").matches) {
    try { await navigator.share({files: [file], title: file.name}); return; } catch { /* cancelled or not allowed: download it */ }
  }
  const link = made("a", {href: URL.createObjectURL(file), download: file.name});
  link.click();
  setTimeout(() => URL.revokeObjectURL(link.href), 60_000);
  at("handed").textContent = `A copy with ${day.contacts.length} contacts was saved as ${file.name}.`;
}

// ----------------------------------------------------------------------------------------------- ready for the field?

async function ready() {
  const lines = [
    ["secure", "This page is a secure context", async () => (window.isSecureContext ? "good" : ["bad", "No: the certificate is not trusted, so the page works only while it stays open. Pair the phone anew and trust the certificate."])],
    ["offline", "The page opens without a network", offline],
    ["storage", "The phone promises to keep the store", async () => {
      if (!navigator.storage?.persist) return ["open", "This browser makes no such promise. Install the page on the home screen and open it within seven days."];
      return (await navigator.storage.persisted()) || (await navigator.storage.persist()) ? "good" : ["open", "Not promised. Install the page on the home screen, and hand in the same day."];
    }],
    ["space", "There is space left", async () => {
      if (!navigator.storage?.estimate) return ["open", "This browser does not tell."];
      const {quota, usage} = await navigator.storage.estimate();
      const free = (quota - usage) / 1e6;
      return free > 20 ? "good" : ["bad", `Only ${Math.round(free)} MB left.`];
    }],
    ["writes", "The store takes a line and gives it back", async () => {
      const word = uuid();
      await keep.setFact("trial", word);
      return (await keep.fact("trial")) === word ? "good" : ["bad", "It gave back something else."];
    }],
    ["clock", "The clock agrees with the server", async () => {
      try {
        const {clockErrorMs, uncertainMs} = await handing.hello();
        const off = Math.abs(clockErrorMs) / 1000;
        return off < 5 + uncertainMs / 1000 ? "good" : ["bad", `It is ${Math.round(off)} s off. Set the phone’s time to automatic.`];
      } catch (problem) { return ["open", problem.message]; }
    }],
    ["aboard", "Outing and gear are on board", async () => {
      if (!board) return ["bad", "No outing was taken along."];
      const missing = [!board.gear.radios.length && "radios", !board.gear.arrangements.length && "arrangements"].filter(Boolean);
      return missing.length ? ["bad", `On board, but without ${missing.join(" and ")}.`] : "good";
    }],
    ["queue", "Nothing waits from before", async () => {
      const count = await keep.waitingCount();
      return count ? ["bad", `${count} entries wait. Hand in first.`] : "good";
    }],
  ];
  const list = at("ready");
  list.replaceChildren(...lines.map(([name, text]) => { const li = made("li", {}, made("span", {textContent: text})); li.dataset.name = name; return li; }),
    Object.assign(made("li", {className: "open"}, made("span", {textContent: "The phone’s battery: not known to this page. Look at it yourself."}))));
  await Promise.all(lines.map(async ([name, text, check]) => {
    let found;
    try { found = await check(); } catch (problem) { found = ["bad", String(problem.message ?? problem)]; }
    const [state, words] = Array.isArray(found) ? found : [found, ""];
    const li = list.querySelector(`[data-name="${name}"]`);
    if (!li) return;
    li.className = state;
    li.firstElementChild.textContent = words ? `${text}: ${words}` : text;
  }));
}

async function offline() {
  if (!("serviceWorker" in navigator)) return ["bad", "Not here: without a secure context the page is not kept. It works while it stays open."];
  const registration = await navigator.serviceWorker.getRegistration("/field/");
  if (!registration?.active) return ["bad", "The page is not kept yet. Wait a moment and try again."];
  if (!navigator.serviceWorker.controller) return ["open", "Kept, but this view came from the network. Load the page once more."];
  const told = await new Promise((resolve, reject) => {
    navigator.serviceWorker.addEventListener("message", (event) => resolve(event.data), {once: true});
    navigator.serviceWorker.controller.postMessage("parts");
    setTimeout(() => reject(new Error("The worker does not answer.")), 3000);
  });
  const cache = await caches.open(`stationlog-field-${told.version}`);
  for (const part of told.parts) {
    const kept = await cache.match(part);
    if (!kept?.ok || !(await kept.arrayBuffer()).byteLength) return ["bad", `${part} is missing. Take the outing along anew.`];
  }
  return "good";
}

let lock = null;
async function wake() {
  if (!("wakeLock" in navigator) || lock || !day?.running) return;
  try {
    lock = await navigator.wakeLock.request("screen");
    lock.addEventListener("release", () => { lock = null; });
  } catch { /* low battery: the phone decides */ }
}

// ------------------------------------------------------------------------------------------------------ outings

async function takeAlong(outing, {silently = false} = {}) {
  const asked_at = utc(new Date(), {fraction: true});
  const found = {...await handing.board(outing), asked_at};
  await keep.keepBoard(found);
  if (navigator.storage?.persist) navigator.storage.persist();
  if (!silently) await openOuting(outing);
  else if (board?.outing.uuid === outing) { board = found; await load(); again(); }
}

// Read what was typed; what was taken before the board was asked for is in it already, perhaps changed since.
async function load() {
  acts = await keep.entries(board.outing.uuid);
  entries = acts.filter((entry) => !(entry.status === "taken" && entry.answered_at <= board.asked_at));
}

async function openOuting(outing) {
  board = await keep.board(outing);
  if (!board) return false;
  await load();
  await keep.setFact("open", outing);
  at("title").textContent = `${board.outing.station_call} · ${board.outing.title}`;
  show(at("choose"), false);
  show(at("day"), true);
  again();
  await drawQueue();
  await tellKept();
  ready();
  return true;
}

async function chooseOuting() {
  show(at("day"), false);
  show(at("choose"), true);
  const boards = await keep.boards();
  const line = (outing, text, work) => {
    const button = made("button", {type: "button", className: "wide", textContent: text});
    button.addEventListener("click", work);
    return made("p", {}, button);
  };
  const name = (outing) => `${outing.window_start.slice(0, 10)} ${outing.site.name}, ${outing.station_call}`;
  at("aboard").replaceChildren(...(boards.length ? [made("h3", {textContent: "On this phone"}), ...boards.map((one) => line(one.outing, name(one.outing), () => openOuting(one.outing.uuid)))]
    : [made("p", {textContent: "No outing is on this phone yet. Take one along while the server can be reached."})]));
  at("look").onclick = async () => {
    try {
      const found = await handing.outings();
      at("offered").replaceChildren(made("h3", {textContent: "On the server"}), ...(found.length
        ? found.map((outing) => line(outing, `Take along: ${name(outing)}`, async () => {
          try { await takeAlong(outing.uuid); } catch (problem) { at("offered").append(made("p", {textContent: problem.message})); }
        }))
        : [made("p", {textContent: "No outing is planned for these days. Plan one on the laptop first."})]));
    } catch (problem) {
      at("offered").replaceChildren(made("p", {textContent: problem.message}), ...(problem.problem === "login" ? [made("p", {}, made("a", {href: "/login/?next=/field/", textContent: "Log in"}))] : []));
    }
  };
}

// --------------------------------------------------------------------------------------------------- beginning

function theme(name) {
  if (name === "auto") delete document.documentElement.dataset.theme;
  else document.documentElement.dataset.theme = name;
  for (const button of at("themes").children) button.setAttribute("aria-pressed", String(button.dataset.theme === name));
}

function part(name) {
  for (const button of document.querySelectorAll(".field-nav button")) button.setAttribute("aria-pressed", String(button.dataset.part === name));
  for (const section of document.querySelectorAll("[data-is]")) show(section, section.dataset.is === name);
  scrollTo({top: 0});
  if (name === "home") { drawQueue(); ready(); }
}

async function keepPage() {
  if (!("serviceWorker" in navigator)) return;
  try {
    const registration = await navigator.serviceWorker.register("/field/worker.js", {scope: "/field/"});
    const offer = () => {
      if (!registration.waiting || !navigator.serviceWorker.controller) return;
      stand("newer", "A newer page is ready. It is used when this one is opened the next time; what waits stays.");
      registration.waiting.postMessage("take over");
    };
    registration.addEventListener("updatefound", () => registration.installing?.addEventListener("statechange", offer));
    offer();
    registration.update().catch(() => {});
  } catch (problem) {
    stand("worker", `The page could not be kept on the phone (${problem.name}). It works while it stays open. The certificate must be trusted, not clicked away.`);
  }
}

async function begin() {
  keep.onTrouble((words) => stand("store", words));
  if (!window.isSecureContext) stand("secure", "No secure context: the page works only while it stays open, and nothing promises that the phone keeps its store. Save copies.");
  keepPage();
  at("entry").addEventListener("submit", logContact);
  at("entry").addEventListener("input", () => day && tell());
  at("call").addEventListener("keydown", (event) => { if (event.key === "Escape") { at("entry").reset(); tell(); } });
  at("measure").addEventListener("submit", measure);
  at("noise").addEventListener("submit", noteNoise);
  at("remark").addEventListener("submit", noteText);
  for (const [id, work] of Object.entries({
    "change": changeOnAir, "pause": inTurn(pauseOrGoOn), "stop": stop, "undo": inTurn(undo), "hand-in": () => handIn(), "copy": saveCopy, "next-site": nextSite,
    "other": chooseOuting, "try-ready": ready, "all-contacts": () => { showAll = true; drawContacts(); },
    "refresh": async () => { try { await takeAlong(board.outing.uuid); } catch (problem) { at("handed").textContent = problem.message; } },
  })) at(id).addEventListener("click", work);
  for (const button of document.querySelectorAll(".field-nav button")) button.addEventListener("click", () => part(button.dataset.part));
  for (const button of at("themes").children) button.addEventListener("click", () => { theme(button.dataset.theme); keep.setFact("theme", button.dataset.theme); });
  addEventListener("online", () => handIn({quietly: true}));
  document.addEventListener("visibilitychange", () => { if (!document.hidden) { wake(); handIn({quietly: true}); } });
  addEventListener("beforeunload", (event) => { if (storing || (!window.isSecureContext && at("kept").classList.contains("waits"))) event.preventDefault(); });
  setInterval(() => { at("utc").textContent = utc(new Date()).slice(11, 19); }, 500);
  setInterval(() => { if (day) drawCounters(); }, 15_000);
  setInterval(() => handIn({quietly: true}), 60_000);
  try {
    const found = await keep.reconcile();
    if (found.recovered) stand("recovered", `${found.recovered} entries came back from the journal.`);
    if (found.missing) stand("missing", `${found.missing} entries that waited here are gone: the phone cleared its store. Look at your last saved copy.`);
    theme((await keep.fact("theme")) ?? "auto");
    lastCopy = (await keep.fact("copy")) ?? lastCopy;
    await keep.tidy(utc(new Date(Date.now() - 30 * 24 * HOUR)));
    const wanted = new URLSearchParams(location.search).get("outing");
    if (wanted && !(await keep.board(wanted))) { try { await takeAlong(wanted); } catch { /* the list says what is here */ } }
    const last = wanted ?? (await keep.fact("open"));
    if (!last || !(await openOuting(last))) await chooseOuting();
    await tellKept();
    document.body.dataset.ready = "yes";
    handIn({quietly: true});
  } catch {
    at("left").textContent = "The phone’s store cannot be opened. Close other copies of this page and try again.";
  }
}

begin();
