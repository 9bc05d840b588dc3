// A fair test on the phone: which block is on the air, when to switch, what comes next. Time between two blocks is noted
// as set-up; a pause stops the clock of a block. All of it follows from the stints, so it is there again after a restart.

import * as days from "./day.js";
import {uuid} from "./keep.js";
import {at, button, made, say, show} from "./screen.js";
import {keep, named, put, state} from "./state.js";
import {utc} from "./words.js";

const CARRIED = ["radio", "pack", "other_source", "power_w", "band", "frequency_hz", "mode", "submode", "tuner_in", "calling"];
let leftOut = new Set(); // blocks that had no turn, by wish of the operator on this phone
let putAway = new Set(); // tests that are not to be shown on this phone any more
let known = ""; // the outing that these are of
let alarmed = ""; // the block whose end was told

// How the newest open test stands: {test, block, stint, left, coming, over, since}; null without one. `left` are the
// seconds on the air that the block still asks for, `since` is when the block before went off the air.
export function standing(board, day, now, out = leftOut, away = putAway) {
  const test = (board.fair_tests ?? []).findLast((one) => !one.ended_at && !away.has(one.uuid));
  if (!test) return null;
  const stints = new Map(test.blocks.map((block) => [block.uuid, day.stints.filter((stint) => stint.block === block.uuid)]));
  const used = test.blocks.filter((block) => stints.get(block.uuid).length);
  const last = used.at(-1)?.number ?? 0;
  const stint = day.running?.block && stints.has(day.running.block) ? day.running : null;
  const block = stint ? test.blocks.find((one) => one.uuid === stint.block) : null;
  const coming = test.blocks.find((one) => one.number > last && !out.has(one.uuid)) ?? null;
  const seconds = block ? stints.get(block.uuid).reduce((sum, one) => sum + days.onAirSeconds(one, now), 0) : 0;
  const ends = used.flatMap((one) => stints.get(one.uuid)).map((one) => one.ended_at).filter(Boolean).sort();
  return {
    test, block, stint, coming, over: !block && !coming,
    left: block ? Math.round((block.end_min - block.start_min) * 60) - seconds : null,
    since: !block && !day.running && ends.length ? ends.at(-1) : null,
  };
}

// What the next stint takes over and what is its own: the block with its arrangement, and the minutes of set-up before.
export function changes(day, board, block, now) {
  const last = day.running ?? day.stints.at(-1) ?? board.last_stint;
  if (!last) return null;
  const gap = !day.running && last.block && last.ended_at ? (now - Date.parse(last.ended_at)) / 60_000 : null;
  return {
    ...Object.fromEntries(CARRIED.map((name) => [name, last[name] ?? null])), arrangement: block.arrangement,
    block: block.uuid, swr_at_radio: null, setup_min: gap === null ? null : Math.round(gap * 10) / 10,
  };
}

function minutesAndSeconds(seconds) {
  const whole = Math.max(0, Math.round(seconds));
  return `${Math.floor(whole / 60)}:${String(whole % 60).padStart(2, "0")}`;
}

async function begin(block) {
  const now = Date.now();
  const wanted = changes(state.day, state.board, block, now);
  if (!wanted) {
    say("Go on the air once first, with band, mode and radio; the test takes these over", "bad");
    return;
  }
  await put(days.changeOnAir(state.day, wanted, utc(new Date(now)), uuid).acts, `Block ${block.number} on the air`);
}

async function off() {
  if (state.day.running) await put(days.stopStint(state.day, utc(new Date())), "Off the air, switching");
}

async function remember(name, set, one) {
  set.add(one);
  await keep.setFact(name, [...set]);
  draw();
}

async function read() {
  known = state.board.outing.uuid;
  leftOut = new Set((await keep.fact("blocks left out")) ?? []);
  putAway = new Set((await keep.fact("fair tests put away")) ?? []);
  draw();
}

export function draw() {
  if (!state.board || !state.day) return;
  if (known !== state.board.outing.uuid) { read(); return; }
  const panel = at("fair-test");
  const found = standing(state.board, state.day, Date.now());
  show(panel, Boolean(found));
  if (!found) return;
  const {test, block, coming} = found;
  const shown = JSON.stringify([test.uuid, block, coming, found.since, [block, coming].map((one) => one && named("arrangement", one.arrangement))]);
  if (panel.dataset.shown === shown) { tick(); return; } // what is being pressed stays, and the word that time is over
  panel.dataset.shown = shown;
  const title = made("h2", {textContent: block ? `Fair test, block ${block.number} of ${test.blocks.length}` : "Fair test"});
  const words = made("p", {className: "told", role: "status"});
  const buttons = [];
  if (block) {
    words.append(made("strong", {textContent: named("arrangement", block.arrangement)}), " is on the air. ");
    buttons.push(button(coming ? "Off the air, to switch" : "Off the air, the last", off, {className: "primary"}));
    if (coming) buttons.push(button(`Switched: ${named("arrangement", coming.arrangement)}`, () => begin(coming)));
  } else if (coming) {
    words.append(found.since ? "Off the air. Next: " : "Ready. First: ", made("strong", {textContent: named("arrangement", coming.arrangement)}),
      `, block ${coming.number} of ${test.blocks.length}.`);
    buttons.push(button("It is up: on the air", () => begin(coming), {className: "primary"}));
    buttons.push(button("Leave this block out", () => remember("blocks left out", leftOut, coming.uuid)));
  } else {
    words.append("All blocks had their turn. The laptop compares them once they are handed in.");
    buttons.push(button("Put it away", () => remember("fair tests put away", putAway, test.uuid)));
  }
  panel.replaceChildren(title, words, made("p", {id: "fair-time", className: "help mono"}), made("div", {className: "thumb-row"}, ...buttons));
  tick();
}

// The clock of the block, and the alarm when it is over; called every second.
export function tick() {
  const line = at("fair-time");
  if (!line || !state.day || at("fair-test").hidden) return;
  const found = standing(state.board, state.day, Date.now());
  if (!found?.block) {
    line.textContent = found?.since ? `Set-up since ${minutesAndSeconds((Date.now() - Date.parse(found.since)) / 1000)}, not time on the air` : "";
    return;
  }
  const paused = days.openPause(found.stint);
  line.textContent = paused ? `Paused, ${minutesAndSeconds(found.left)} left` : found.left > 0 ? `${minutesAndSeconds(found.left)} left` : "Time to switch";
  const words = at("fair-test").querySelector("[role=status]");
  words.classList.toggle("repeat", found.left <= 0);
  if (found.left <= 0 && alarmed !== found.block.uuid) {
    alarmed = found.block.uuid;
    words.append(found.coming ? `Time is over: switch to ${named("arrangement", found.coming.arrangement)}.` : "Time is over: that was the last block.");
    navigator.vibrate?.([300, 150, 300]);
  }
}
