// What is on the air: always in sight, changed in two taps, paused, stopped, and asked after when it seems forgotten.

import * as days from "./day.js";
import {uuid} from "./keep.js";
import {ask, at, button, choice, field, made, show} from "./screen.js";
import {named, put, sorted, state} from "./state.js";
import {clock, frequencyText, modeOf, numberOf, numeral, powerText, tuning, utc, watts} from "./words.js";

const ASKED_AGAIN_MS = 20 * 60_000;
const SET_UPS = 6; // offered to be chosen by one tap
const SET_UP = ["band", "frequency_hz", "mode", "submode", "arrangement", "radio", "pack", "other_source", "power_w", "calling", "tuner_in"];

// How an arrangement is put up for a band, in words: "short" has what changes from band to band. "" where nothing was noted.
function setting(arrangement, band, which) {
  return state.board.gear.arrangements.find((one) => one.pk === arrangement)?.settings.find((one) => one.band === band)?.[which] ?? "";
}

export function draw() {
  const stint = state.day.running;
  const paused = days.openPause(stint);
  const line = at("on-air");
  if (stint) {
    const said = [`${stint.band || "out of band"} ${stint.submode || stint.mode}`, frequencyText(stint.frequency_hz), powerText(stint.power_w), stint.calling];
    const gear = [named("arrangement", stint.arrangement), named("pack", stint.pack) || stint.other_source, named("radio", stint.radio)];
    if (stint.swr_at_radio) gear.push(`SWR ${numeral(stint.swr_at_radio)}`);
    const put_up = setting(stint.arrangement, stint.band, "short");
    line.replaceChildren(`${paused ? "Paused: " : ""}${said.filter(Boolean).join(" · ")}`, made("small", {textContent: gear.filter(Boolean).join(" · ")}),
      ...(put_up ? [made("small", {textContent: `For ${stint.band}: ${put_up}`})] : []));
  } else {
    line.replaceChildren("Nothing is on the air.", made("small", {textContent: "Contacts can be kept all the same; without a stint they count in no rate."}));
  }
  at("on-air").classList.toggle("paused", Boolean(paused));
  at("change").textContent = stint ? "Change" : "Go on the air";
  at("pause").textContent = paused ? "Go on" : "Pause";
  show(at("pause"), Boolean(stint));
  show(at("stop"), Boolean(stint));
  askForgotten(Date.now());
}

// Set-ups to be chosen by one tap: those of the outing, newest first, then the present one on each band of the plan.
function setUps() {
  const {board, day} = state;
  const key = (one) => JSON.stringify([one.band, one.submode || one.mode, one.arrangement, one.radio, one.pack]);
  const pick = (one) => Object.fromEntries(SET_UP.map((name) => [name, one[name] ?? null]));
  const from = day.running ?? day.stints.at(-1) ?? board.last_stint;
  const found = new Map();
  for (const stint of [...day.stints].reverse()) found.set(key(stint), found.get(key(stint)) ?? pick(stint));
  if (from) {
    for (const band of board.outing.bands ?? []) {
      const fits = (one) => one.settings.some((each) => each.band === band);
      const present = board.gear.arrangements.find((one) => one.pk === from.arrangement);
      const fitting = present && fits(present) ? present : sorted(board.gear.arrangements).find(fits);
      const one = {...pick(from), band, frequency_hz: null, arrangement: fitting?.pk ?? from.arrangement, tuner_in: null};
      if (![...found.values()].some((other) => other.band === band)) found.set(key(one), one);
    }
  }
  if (day.running) found.delete(key(day.running));
  return [...found.values()].slice(0, SET_UPS);
}

function setUpText(one) {
  return [`${one.band || frequencyText(one.frequency_hz)} ${one.submode || one.mode}`, named("arrangement", one.arrangement), powerText(one.power_w)].filter(Boolean).join(" · ");
}

// Words against the fields of the sheet; "" where all is well.
function against(typed, stint) {
  if (!tuning(typed.tuned, state.board.band_edges)) return "Give a band such as 20m or a frequency such as 14285.";
  if (typed.power.trim() && watts(typed.power) === null) return "Give the power in watts, or as 500 mW.";
  if (typed.swr.trim() && !(numberOf(typed.swr) >= 1)) return "An SWR is 1 or more.";
  return againstAgo(typed.ago, stint, "the change must come after.");
}

function againstAgo(ago, stint, must) {
  if (ago.trim() && !/^[0-9]+$/u.test(ago.trim())) return "Minutes ago is a whole number.";
  return stint && Date.now() - 60_000 * Number(ago || 0) <= Date.parse(stint.started_at)
    ? `The stint began at ${clock(stint.started_at)}; ${must}` : "";
}

const momentAgo = (ago) => utc(new Date(Date.now() - 60_000 * Number(ago || 0)));

export async function change() {
  const {board, day} = state;
  const stint = day.running;
  const from = stint ?? day.stints.at(-1) ?? board.last_stint ?? {};
  const options = (rows, text) => [["", "–"], ...sorted(rows).map((one) => [one.pk, text(one)])];
  const radio = board.gear.radios.find((one) => one.pk === from.radio) ?? sorted(board.gear.radios)[0];
  const modes = [...new Set([...(radio?.modes ?? []), from.submode || from.mode, "SSB", "CW", "FM", "FT8"].filter(Boolean))];
  const quick = setUps();
  const buttons = quick.map((one, index) => made("button", {type: "button", value: String(index), textContent: setUpText(one)}));
  const put_up = made("p", {className: "help", role: "status"});
  const source = field("other source", "other_source", from.other_source, {maxLength: 40});
  source.querySelector("input").setAttribute("list", "sources");
  const sources = made("datalist", {id: "sources"}, ...(board.gear.sources ?? []).map((value) => made("option", {value})));
  const body = [
    ...(buttons.length ? [made("fieldset", {className: "choices"}, made("legend", {textContent: "At once, from now on"}), ...buttons)] : []),
    made("div", {className: "two"},
      field("band or frequency", "tuned", from.frequency_hz ? numeral(from.frequency_hz / 1e6) : from.band ?? board.outing.bands?.[0] ?? "", {maxLength: 15, required: true}),
      choice("mode", "mode", from.submode || from.mode || modes[0], modes.map((mode) => [mode, mode])),
      field("power", "power", powerText(from.power_w).replace(" W", ""), {maxLength: 12, placeholder: "W, or mW"}),
      choice("calling", "calling", from.calling, [["", "–"], ["calling", "calling"], ["answering", "answering"], ["both", "both"]])),
    choice("arrangement", "arrangement", from.arrangement, options(board.gear.arrangements, (one) => `${one.antenna}: ${one.name}`)),
    put_up,
    made("div", {className: "two"},
      choice("radio", "radio", from.radio ?? radio?.pk, options(board.gear.radios, (one) => one.name)),
      choice("pack", "pack", from.pack, options(board.gear.packs, (one) => one.name)),
      source, sources,
      field("SWR at the radio", "swr", numeral(from.swr_at_radio ?? ""), {inputMode: "decimal", maxLength: 6}),
      choice("tuner", "tuner", from.tuner_in === true ? "in" : from.tuner_in === false ? "out" : "", [["", "–"], ["in", "in line"], ["out", "out"]]),
      field("minutes ago", "ago", "", {inputMode: "numeric", maxLength: 4, placeholder: "0, now"})),
  ];
  const tellSetting = () => {
    const form = at("sheet").querySelector("form").elements;
    const band = tuning(form.tuned.value, board.band_edges)?.band;
    const chosen = board.gear.arrangements.find((one) => one.pk === Number(form.arrangement.value));
    const words = chosen && setting(chosen.pk, band, "words");
    put_up.textContent = !chosen ? "" : words ? `For ${band}: ${words}`
      : `${band ? `Nothing noted for ${band}. ` : ""}Noted for: ${chosen.settings.map((one) => one.band).join(", ") || "no band"}.`;
  };
  const asked = ask(stint ? "What changes?" : "Go on the air", body, {
    ok: stint ? "Change" : "Go", extra: buttons, check: (typed) => against(typed, stint),
  });
  at("sheet-body").oninput = tellSetting;
  tellSetting();
  const values = await asked;
  at("sheet-body").oninput = null;
  if (!values) return;
  if (values.chosen) {
    await put(days.changeOnAir(state.day, {...quick[Number(values.chosen)], swr_at_radio: null}, utc(new Date()), uuid).acts, "On the air");
    return;
  }
  const changes = {
    ...tuning(values.tuned, board.band_edges), ...modeOf(values.mode), power_w: values.power.trim() ? watts(values.power) : null, calling: values.calling,
    arrangement: Number(values.arrangement) || null, radio: Number(values.radio) || null, pack: Number(values.pack) || null,
    other_source: values.other_source.trim(), swr_at_radio: numberOf(values.swr), tuner_in: values.tuner ? values.tuner === "in" : null,
  };
  await put(days.changeOnAir(state.day, changes, momentAgo(values.ago), uuid).acts, "On the air");
}

export async function pauseOrGoOn() {
  const {day} = state;
  if (!day.running) return;
  const paused = days.openPause(day.running);
  const now = utc(new Date());
  if (paused) await put([days.act("pause", paused, {...days.pauseValues(paused), ended_at: now}, day.outing.uuid)], "On the air again");
  else await put([{kind: "pause", subject: uuid(), values: {stint: day.running.uuid, started_at: now, ended_at: null}, base: 0}], "Paused");
}

export async function stop() {
  const values = await ask("Stop", [field("minutes ago", "ago", "", {inputMode: "numeric", maxLength: 4, placeholder: "0, now"})], {
    ok: "Stop", check: (typed) => againstAgo(typed.ago, state.day.running, "it must end after."),
  });
  if (values && state.day.running) await put(days.stopStint(state.day, momentAgo(values.ago)), "Stopped");
}

// Nothing was entered for 20 minutes: ask whether stopping was forgotten.
export function askForgotten(now) {
  const left = days.forgotten(state.day, now);
  const box = at("forgotten");
  if (!left) { show(box, false); return; }
  const end = left.lastContactAt ?? left.since;
  const asked = `${left.stint.uuid} ${end}`;
  if (box.dataset.asked === asked && !box.hidden) return; // nothing moves under the thumb
  if (Number(box.dataset.waits ?? 0) > now) return;
  box.dataset.asked = asked;
  box.replaceChildren(
    made("p", {textContent: "Nothing was entered for 20 minutes. Still on the air?"}),
    made("div", {className: "thumb-row"},
      button("Still on the air", () => { box.dataset.waits = String(Date.now() + ASKED_AGAIN_MS); show(box, false); }),
      button(`It ended at ${clock(utc(new Date(end)))}`, () => put(days.stopStint(state.day, utc(new Date(end + 1000))), "Stopped"))),
  );
  show(box, true);
}
