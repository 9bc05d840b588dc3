// Handing in, by itself and by hand; what waits and what was refused; and the copy that needs no server at all.

import * as adif from "./adif.js";
import * as days from "./day.js";
import * as handing from "./hand_in.js";
import {ready} from "./ready.js";
import {at, button, made, say, show, stand} from "./screen.js";
import {again, keep, load, remind, state, tellKept} from "./state.js";
import {takeAlong} from "./outing.js";
import {plural, utc} from "./words.js";

const REFUSED_SHOWN = 50;
const CLOCK_OFF_S = 30;
const REMEMBERED_MS = 30 * 86_400_000; // how long outings and what was handed in stay
const VERSION = document.body.dataset.version;
let handingIn = false;
let quiet = true; // whether the hand-in that runs was begun by itself and nobody has pressed the button since
let pressed = false; // while one ran, which may have read the queue before
let tidied = false;

export async function handIn({quietly = false} = {}) {
  quiet = quietly && (quiet || !handingIn);
  if (!quietly) say("");
  if (handingIn) { pressed ||= !quietly; return; }
  handingIn = true;
  const bar = at("progress");
  const tell = ({done, total}) => {
    show(bar, total > 0);
    bar.firstElementChild.value = total ? done / total : 1;
    bar.lastElementChild.textContent = `${done} of ${total}`;
  };
  try {
    const result = await handing.handIn(keep, {tell});
    const parts = [`${result.done} handed in`];
    if (result.again) parts.push("the server had lost some of them, perhaps by an older backup");
    if (result.refused) parts.push(`${result.refused} refused, see below`);
    if (result.conflicts) parts.push(`${result.conflicts} had been changed elsewhere too; the laptop shows both versions`);
    const still = await keep.waiting("refused");
    if (!result.refused && still.length) parts.push(`${still.length} still refused, see below`);
    if (!quiet || result.done || result.refused) at("handed").textContent = `${parts.join("; ")}.`;
    const off = result.clockErrorMs / 1000;
    stand("clock", Math.abs(off) > CLOCK_OFF_S + result.uncertainMs / 1000
      ? `This phone’s clock is ${Math.round(Math.abs(off))} s ${off > 0 ? "fast" : "slow"} against the server. Set it; the laptop offers to shift the contacts, nothing is shifted by itself.` : "");
    stand("server", "");
    await tellLacking(result.lacking);
    await tidyOnce(Date.now() - result.clockErrorMs);
    if (result.done && !at("part-home").hidden) ready(); // what waited is one of its lines
    if (result.done && state.board) await takeAlong(state.board.outing.uuid, {silently: true});
  } catch (problem) {
    if (!quiet || problem.problem !== "unreachable") at("handed").textContent = problem.message;
    if (problem.problem === "login") stand("server", "The login has expired. Everything stays on the phone. Pair the phone anew, or", ["/login/?next=/field/", "log in again"]);
    if (["newer", "full"].includes(problem.problem)) stand("server", problem.message);
  } finally {
    handingIn = false;
    show(bar, false);
    await redraw();
  }
  const once = pressed;
  pressed = false;
  if (once && (await keep.waiting().catch(() => [])).length) await handIn();
}

// Forget what is long over, by the server's clock: one that ran ahead in the field would take today's outing away.
async function tidyOnce(now) {
  if (tidied) return;
  tidied = true;
  await keep.tidy(utc(new Date(now - REMEMBERED_MS))).catch(() => {}); // more room is no must
}

// Outings that the server has lost, after it had taken entries of them: only a copy brings them back.
async function tellLacking(lacking) {
  const lines = await Promise.all(Object.entries(lacking).map(async ([outing, entries]) => {
    const found = await keep.board(outing);
    return `${plural(entries.length, "entry", "entries")} of ${found?.outing.title ?? "an outing"}`;
  }));
  if (lines.length) stand("lacking", `The server had taken ${lines.join("; ")}, and has lost outing and all, perhaps by an older backup. Open it here, save a copy, and take that in on the laptop under Files.`);
}

// Read and draw what the store has now; where it does not answer, what is shown stays.
async function redraw() {
  try {
    if (state.board) { await load(); again(); }
    await drawQueue();
  } catch { /* the store has told its trouble */ }
  await tellKept();
}

export async function drawQueue() {
  const waiting = (await keep.waiting()).length + keep.adrift.size;
  const refused = await keep.waiting("refused");
  at("queue").textContent = waiting ? `${plural(waiting, "entry is", "entries are")} on this phone only.` : refused.length ? "All but what was refused is on the server." : "Everything typed here is on the server.";
  at("refused").replaceChildren(...(refused.length ? [
    made("h2", {textContent: `${refused.length} refused`}),
    made("p", {className: "help", textContent: "They stay on the phone until the server takes them, and are in every copy. Mend what the reason says, here or on the laptop, and try again."}),
    made("ul", {}, ...refused.slice(0, REFUSED_SHOWN).map((entry) => made("li", {textContent: `${entry.values?.call ?? entry.kind}: ${entry.reason}`}))),
    button("Try the refused ones again", async () => { await keep.waitAgain(await keep.waiting("refused")); await handIn(); }),
  ] : []));
}

// The open outing and every other one of which something waits, each with the names of its gear.
async function outingsToCopy(waiting) {
  const found = state.board ? [{board: state.board, day: state.day}] : [];
  for (const outing of new Set(waiting.map((entry) => entry.outing))) {
    const board = outing === state.board?.outing.uuid ? null : await keep.board(outing);
    if (board) found.push({board, day: days.dayOf(board, await keep.entries(outing))});
  }
  return found.map(({board, day}) => ({day, names: Object.fromEntries([["radio", "radios"], ["arrangement", "arrangements"], ["pack", "packs"]].map(
    ([kind, rows]) => [kind, (pk) => { const one = board.gear[rows].find((row) => row.pk === pk); return one ? (kind === "arrangement" ? `${one.antenna}: ${one.name}` : one.name) : ""; }]))}));
}

// Save a file that needs no server: every contact as standard ADIF, and all that waits as this program's own field of it.
export async function saveCopy() {
  const now = new Date();
  const waiting = [...await keep.waiting(), ...await keep.waiting("refused"), ...keep.adrift.values()];
  const outings = await outingsToCopy(waiting);
  const text = adif.file(outings, {madeAt: now, version: VERSION, phone: await keep.phone(), waiting});
  const file = new File([text], adif.fileName(outings[0]?.day, now), {type: "text/plain"});
  state.copied = {count: state.entries.filter((entry) => entry.kind === "contact" && entry.status !== "taken").length, at: Date.now()};
  await keep.setFact("copy", state.copied).catch(() => {}); // a copy is saved although the store takes nothing
  remind();
  if (navigator.canShare?.({files: [file]}) && matchMedia("(pointer: coarse)").matches) {
    try { await navigator.share({files: [file], title: file.name}); return; } catch { /* cancelled or not allowed: download it */ }
  }
  const link = made("a", {href: URL.createObjectURL(file), download: file.name});
  link.click();
  setTimeout(() => URL.revokeObjectURL(link.href), 60_000);
  const contacts = outings.reduce((sum, {day}) => sum + day.contacts.length, 0);
  at("handed").textContent = `A copy with ${plural(contacts, "contact")}${waiting.length ? ` and all that waits` : ""} was saved as ${file.name}. The laptop takes it in under Files.`;
}
