// The outing: taken along, opened, shown with its kit, its kit changed, and gone on from at the next site.

import * as days from "./day.js";
import * as handing from "./hand_in.js";
import {uuid} from "./keep.js";
import {ask, at, button, choice, field, made, show} from "./screen.js";
import {again, keep, kit, load, put, state, tellKept} from "./state.js";
import {clock, plural, utc} from "./words.js";

const FRESH = ["arrival", "leaving"]; // sections of the checklist that each site begins anew: it has its own trees and lines

export async function takeAlong(outing, {silently = false} = {}) {
  const asked_at = utc(new Date(), {fraction: true});
  const found = {...await handing.board(outing), asked_at};
  await keep.keepBoard(found);
  if (navigator.storage?.persist) navigator.storage.persist();
  if (!silently) await open(outing);
  else if (state.board?.outing.uuid === outing) { state.board = found; await load(); again(); }
}

export async function open(outing) {
  const found = await keep.board(outing);
  if (!found) return false;
  state.board = found;
  await load();
  await keep.setFact("open", outing);
  at("title").textContent = `${found.outing.station_call} · ${found.outing.title}`;
  show(at("choose"), false);
  show(at("day"), true);
  again();
  await tellKept();
  return true;
}

export async function choose() {
  at("title").textContent = "In the field";
  show(at("day"), false);
  show(at("choose"), true);
  const boards = await keep.boards();
  const line = (text, work) => made("p", {}, button(text, work, {className: "wide"}));
  const name = (outing) => `${outing.window_start.slice(0, 10)} ${outing.site.name}, ${outing.station_call}`;
  const told = (problem) => [made("p", {textContent: problem.message}), ...(problem.problem === "login" ? [made("p", {}, made("a", {href: "/login/?next=/field/", textContent: "Log in"}))] : [])];
  at("aboard").replaceChildren(...(boards.length
    ? [made("h3", {textContent: "On this phone"}), ...boards.map((one) => line(name(one.outing), () => open(one.outing.uuid)))]
    : [made("p", {textContent: "No outing is on this phone yet. Take one along while the server can be reached."})]));
  at("look").onclick = async () => {
    const offered = at("offered");
    try {
      const found = await handing.outings();
      offered.replaceChildren(made("h3", {textContent: "On the server"}), ...(found.length
        ? found.map((outing) => line(`Take along: ${name(outing)}`, async () => {
          try { await takeAlong(outing.uuid); } catch (problem) { offered.append(...told(problem)); }
        }))
        : [made("p", {textContent: "No outing is planned for these days. Plan one on the laptop first."})]));
    } catch (problem) { offered.replaceChildren(...told(problem)); }
  };
}

export function draw() {
  const {outing} = state.day;
  const along = kit();
  const items = along ? along.pieces.map((one) => (one.quantity > 1 ? `${one.quantity} × ${one.name}` : one.name)).join(", ") : "";
  const facts = [
    ["Site", `${outing.site.name}, ${outing.site.grid}`],
    ["References", (outing.references ?? []).map((one) => [one.programme, one.reference].filter(Boolean).join(" ")).join(", ")],
    ["Window", `${outing.window_start.slice(0, 10)} ${clock(outing.window_start)}${outing.window_end ? ` to ${clock(outing.window_end)}` : ""} UTC`],
    ["Goal", outing.goal_contacts ? plural(outing.goal_contacts, "contact") : ""],
    ["Kit", along ? `${along.name}${items ? `: ${items}` : ""}` : "none"],
    ["Notes", outing.notes],
  ];
  at("facts").replaceChildren(...facts.filter(([, text]) => text).flatMap(([name, text]) => [made("dt", {textContent: name}), made("dd", {textContent: text})]));
}

const COLUMNS = [
  "station_call", "references", "window_start", "window_end", "started_at", "ended_at", "kit", "bands", "goal_contacts",
  "exchange", "exchange_text", "notes",
];

// An act on an outing, with all of it that the phone knows; what is not named stays as it is.
function outingAct(outing, changes = {}) {
  const known = COLUMNS.filter((name) => outing[name] !== undefined).map((name) => [name, outing[name]]);
  const values = {site: outing.site.pk, ...Object.fromEntries(known), ...changes};
  return {kind: "outing", subject: outing.uuid, base: outing.revision ?? 0, values};
}

export async function changeKit() {
  const {board, day} = state;
  const before = kit();
  const values = await ask("What goes along now?", [
    choice("kit", "kit", before?.pk, [["", "none"], ...(board.kits ?? []).map((one) => [one.pk, one.name])]),
    field("what was left, broke or was borrowed", "words", "", {maxLength: 300}),
    made("p", {className: "help", textContent: "All gear in use can be put on the air, whatever the kit. Radio, arrangement and pack of a stint are chosen with “Change”."}),
  ], {ok: "Keep"});
  if (!values) return;
  const after = board.kits?.find((one) => one.pk === Number(values.kit)) ?? null;
  const acts = [];
  if (after !== before) acts.push(outingAct(day.outing, {kit: after?.pk ?? null}));
  const words = [after === before ? "" : `Kit changed: ${after?.name ?? "none"} instead of ${before?.name ?? "none"}.`, values.words.trim()];
  const text = words.filter(Boolean).join(" ");
  if (!text) return;
  acts.push({kind: "remark", subject: uuid(), base: 0, values: {outing: day.outing.uuid, at: utc(new Date()), about: "note", value: null, text}});
  await put(acts, "Kit kept");
}

// What the next site begins with: kit, the packs with their last readings, the set-up, and what was worked today.
function nextBoard(subject, site, now) {
  const {board, day} = state;
  const old = day.outing;
  const worked = day.contacts.map((one) => ({...one, references: old.references}));
  const earlier = new Map((board.earlier ?? []).map((one) => [one.c, one]));
  for (const one of day.contacts) {
    const k = (earlier.get(one.call)?.k ?? 0) + 1;
    earlier.set(one.call, {c: one.call, t: one.started_at.slice(0, 10), b: one.band, m: one.mode, n: one.name, g: one.their_grid, s: one.state, k});
  }
  const last = (pack) => day.readings.findLast((one) => one.pack === pack.pk) ?? pack.last;
  return {
    ...board, made_here: true, stints: [], contacts: [], remarks: [], readings: [], checklist: [], light: site.light ?? board.light,
    same_day: [...board.same_day ?? [], ...worked], earlier: [...earlier.values()], earlierByCall: undefined,
    last_stint: day.stints.at(-1) ?? board.last_stint ?? null,
    gear: {...board.gear, packs: board.gear.packs.map((pack) => ({...pack, last: last(pack)}))},
    outing: {
      ...old, uuid: subject, revision: 0, title: site.name, site, references: site.references, window_start: now, started_at: now, ended_at: null,
      window_end: Date.parse(old.window_end) > Date.now() ? old.window_end : null, notes: "",
    },
  };
}

export async function nextSite() {
  const {board} = state;
  const others = board.sites.filter((site) => site.pk !== board.outing.site.pk);
  if (!others.length) {
    await ask("No other site", [made("p", {textContent: "There is no other site on board. Sites are made on the laptop."})], {ok: ""});
    return;
  }
  const values = await ask("Go on at the next site", [
    choice("site", "site", "", others.map((site) => [site.pk, `${site.name} (${site.grid.slice(0, 6)})`])),
    made("p", {className: "help", textContent: "This outing is closed. Kit, packs with their last readings, set-up and ticks go along to a new one; the lines for arriving and leaving begin anew."}),
  ], {ok: "Go on"});
  if (!values) return;
  const {day} = state;
  const now = utc(new Date());
  const site = others.find((one) => one.pk === Number(values.site));
  const subject = uuid();
  const next = nextBoard(subject, site, now);
  const closing = [...(day.running ? days.stopStint(day, now) : []), outingAct(day.outing, {ended_at: now})];
  if (!(await put(closing, "Closed"))) return;
  await keep.keepBoard(next);
  const carried = day.checklist.map((line) => ({
    kind: "tick", subject: uuid(), base: 0,
    values: {
      outing: subject, text: line.text, section: line.section, quantity: line.quantity, position: line.position,
      ticked_at: FRESH.includes(line.section) ? null : line.ticked_at,
    },
  }));
  await open(subject);
  await put([outingAct(next.outing, {title: site.name}), ...carried], `At ${site.name} kept`);
}
