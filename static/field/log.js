// Logging: a contact takes its call and Enter; the newest stand below, each to be edited; undo goes back step by step.

import * as days from "./day.js";
import {uuid} from "./keep.js";
import {centreOf, way} from "./place.js";
import {ask, at, button, field, fill, made, show} from "./screen.js";
import {put, state} from "./state.js";
import {callOf, clock, momentOf, numeral, plural, tuning, usualReport, utc} from "./words.js";

const SHOWN = 4; // so that the numbers below stay where they are
let showAll = false;

function typedContact() {
  const {board, day} = state;
  const form = at("entry").elements;
  const value = (name) => form[name].value.trim();
  const moment = momentOf(value("time"), new Date());
  const when = moment?.when ?? utc(new Date());
  const covering = value("time") || !day.running ? days.stintAt(day, when, moment?.seconds ?? true) : day.running;
  const stint = covering ?? day.running ?? day.stints.at(-1); // without one that covers it, as the others were made
  const report = usualReport(stint?.mode, stint?.submode, board.phone_modes);
  return {
    moment, stint: covering?.uuid ?? null, call: form.call.value.toUpperCase().replace(/\s+/gu, ""),
    pending: form.call.value.includes("?"), started_at: when, seconds_known: moment?.seconds ?? true,
    band: stint?.band ?? "", frequency_hz: stint?.frequency_hz ?? null, mode: stint?.mode ?? "", submode: stint?.submode ?? "",
    power_w: stint?.power_w ?? null, rst_sent: value("rst_sent") || report, rst_rcvd: value("rst_rcvd") || report,
    their_grid: value("their_grid"), their_reference: value("their_reference").toUpperCase(), name: value("name"),
    state: value("state").toUpperCase(), comment: value("comment"), station_call: day.outing.station_call,
    serial_rcvd: /^[0-9]{1,6}$/u.test(value("serial_rcvd")) ? Number(value("serial_rcvd")) : null,
    exchange_sent: board.outing.exchange === "location" ? board.outing.exchange_text : "",
    serial_sent: board.outing.exchange === "serial" ? 1 + Math.max(0, ...day.contacts.map((one) => one.serial_sent ?? 0)) : null,
  };
}

// What is to be known of the call that is being typed.
function tell() {
  if (!state.day) return;
  const {board, day} = state;
  const line = at("told");
  line.className = "told";
  const contact = typedContact();
  if (!contact.call) { line.textContent = ""; return; }
  const said = [];
  if (day.running && contact.moment && !contact.stint) said.push(`Nothing was on the air at ${clock(contact.started_at)}; it will be in no stint.`);
  if (contact.call.length >= 3) {
    const [repeated] = days.repeats(board, day, contact);
    if (repeated) {
      line.className = "told repeat";
      said.push(`Again: ${repeated.call} at ${clock(repeated.started_at)} on ${repeated.band}. It can be kept all the same.`);
    }
    const before = days.earlier(board, contact.call);
    if (before) said.push(`Worked ${plural(before.k, "time")} before, last on ${[before.t, before.b, before.m].join(" ")}${[before.n, before.g].filter(Boolean).map((text) => `, ${text}`).join("")}.`);
  }
  const there = centreOf(contact.their_grid);
  if (there) {
    const {km, bearing} = way({latitude: board.outing.site.latitude_deg, longitude: board.outing.site.longitude_deg}, there);
    const far = board.units === "imperial" ? `${Math.round(km / 16.09344) * 10} mi` : `${Math.round(km / 10) * 10} km`;
    said.push(`About ${far} towards ${Math.round(bearing)}°.`);
  } else if (contact.their_grid) said.push("That is no grid square.");
  line.textContent = said.join(" ");
}

async function logContact(event) {
  event.preventDefault();
  const form = at("entry");
  const contact = typedContact();
  const refuse = (words, name) => {
    at("told").className = "told bad";
    at("told").textContent = words;
    form.elements[name].focus();
  };
  if (!callOf(contact.call)) {
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
  const act = {kind: "contact", subject: uuid(), values: days.contactValues(state.day.outing.uuid, values), base: 0};
  if (!(await put([act], `${contact.call} kept`)) && !form.elements.call.value) {
    for (const [one, value] of typed) one.value = value;
  }
}

function contactRow(contact) {
  const stint = state.day.stints.find((one) => one.uuid === contact.stint);
  const waits = contact.status && contact.status !== "taken";
  const row = button("", () => editContact(contact.uuid), {className: waits ? "waits" : ""});
  row.dataset.row = contact.uuid;
  row.append(
    made("span", {className: "mono", textContent: clock(contact.started_at)}),
    made("span", {className: "call", textContent: contact.call}),
    made("span", {textContent: [contact.band || stint?.band, contact.submode || contact.mode, contact.pending ? "doubtful" : ""].filter(Boolean).join(" ")}),
  );
  row.setAttribute("aria-label", `Edit ${contact.call} at ${clock(contact.started_at)} UTC${waits ? ", on this phone only" : ""}`);
  return made("li", {}, row);
}

export function draw() {
  const {board, day, acts} = state;
  const newest = [...day.contacts].reverse();
  fill(at("contacts"), (showAll ? newest : newest.slice(0, SHOWN)).map(contactRow));
  show(at("all-contacts"), !showAll && newest.length > SHOWN);
  at("all-contacts").textContent = `Show all ${newest.length}`;
  at("undo").disabled = !days.takeBack(board, day, acts);
  const report = usualReport(day.running?.mode ?? "SSB", day.running?.submode, board.phone_modes);
  for (const name of ["rst_sent", "rst_rcvd"]) at("entry").elements[name].placeholder = report;
  show(at("entry").querySelector(".serial"), board.outing.exchange === "serial");
}

export function drawAll() {
  showAll = true;
  draw();
}

async function editContact(subject) {
  const {day, board} = state;
  const contact = day.contacts.find((one) => one.uuid === subject); // as it is now
  const remove = made("button", {type: "button", value: "delete", className: "danger wide", textContent: "Delete this contact"});
  const body = [
    field("call", "call", contact.call, {className: "call", maxLength: 30, autocapitalize: "characters"}),
    made("div", {className: "two"},
      field("UTC time", "time", contact.started_at.slice(11, contact.seconds_known === false ? 16 : 19).replaceAll(":", ""), {inputMode: "numeric", maxLength: 6, placeholder: "HHMM"}),
      field("band or frequency", "tuned", contact.frequency_hz ? numeral(contact.frequency_hz / 1e6) : contact.band, {maxLength: 15}),
      field("sent", "rst_sent", contact.rst_sent, {maxLength: 20}), field("received", "rst_rcvd", contact.rst_rcvd, {maxLength: 20}),
      field("grid", "their_grid", contact.their_grid, {maxLength: 10, autocapitalize: "characters"}),
      field("their reference", "their_reference", contact.their_reference, {maxLength: 60, autocapitalize: "characters"}),
      field("name", "name", contact.name, {maxLength: 80}), field("state or province", "state", contact.state, {maxLength: 20})),
    field("comment", "comment", contact.comment, {maxLength: 255}), remove,
  ];
  const values = await ask(`${contact.call}, ${contact.started_at.slice(0, 10)}`, body, {
    ok: "Keep", extra: [remove],
    check: (typed) => {
      if (!callOf(typed.call)) return "That is no call sign.";
      if (!typed.time || !momentOf(typed.time, new Date())) return "The time is HHMM or HHMMSS in UTC.";
      if (typed.tuned.trim() && !tuning(typed.tuned, board.band_edges)) return "Give a band such as 20m or a frequency such as 14285.";
      if (typed.their_grid.trim() && !centreOf(typed.their_grid)) return "That is no grid square.";
      return "";
    },
  });
  if (!values) return;
  const kept = (row) => days.act("contact", contact, days.contactValues(day.outing.uuid, row), day.outing.uuid);
  if (values.chosen === "delete") {
    await put([{...kept(contact), action: "delete"}], `${contact.call} deleted`);
    return;
  }
  const {time, tuned, ...texts} = values;
  const digits = time.replaceAll(":", "");
  const at_ = digits.padEnd(6, "0");
  const call = callOf(texts.call);
  await put([kept({
    ...contact, ...texts, call, pending: call.includes("?"), their_reference: texts.their_reference.toUpperCase(),
    state: texts.state.toUpperCase(), started_at: `${contact.started_at.slice(0, 10)}T${at_.slice(0, 2)}:${at_.slice(2, 4)}:${at_.slice(4, 6)}Z`,
    seconds_known: digits.length === 6, ...(tuned.trim() ? tuning(tuned, board.band_edges) : {band: "", frequency_hz: null}),
  })], `${call} changed`);
}

// Take the newest act on a contact back: a new one is deleted, an edit returns to what stood before, a deleted one comes back.
export async function undo() {
  const found = days.takeBack(state.board, state.day, state.acts);
  if (found) await put([found.act], `${found.last.values.call} taken back`);
}

export function begin() {
  at("entry").addEventListener("submit", logContact);
  at("entry").addEventListener("input", tell);
  at("call").addEventListener("keydown", (event) => { if (event.key === "Escape") { at("entry").reset(); tell(); } });
}
