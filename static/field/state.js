// The outing that is open: what came from the server, what was typed since, and how acts are kept and shown.

import * as days from "./day.js";
import {Keep} from "./keep.js";
import {at, say, stand} from "./screen.js";
import {plural} from "./words.js";

const REMIND_EVERY = 25; // contacts, or an hour, after which a copy is asked for while nothing is handed in
const HOUR = 3_600_000;

export const keep = new Keep();
export const state = {
  board: null, // what came from the server
  acts: [], // what was typed on this phone
  entries: [], // of these, what the board does not have yet
  day: null, // both together
  storing: 0, // acts that are being kept
  copied: {count: 0, at: 0}, // how many contacts waited when a copy was saved, and when
};
const drawers = [];

// Have `draw()` called whenever the state is another.
export function whenDrawn(draw) { drawers.push(draw); }

export function again() {
  state.day = days.dayOf(state.board, state.entries);
  document.documentElement.dataset.decimals = state.board.decimal_sign ?? "."; // older boards have none
  for (const draw of drawers) draw();
}

// Read what was typed; what was taken before the board was asked for is in it already, perhaps changed since.
export async function load() {
  state.acts = await keep.entries(state.board.outing.uuid);
  state.entries = state.acts.filter((entry) => !(entry.status === "taken" && entry.answered_at <= state.board.asked_at));
}

// Keep acts and show them; the screen says so only once the store has them.
export async function put(wanted, words) {
  state.storing += 1;
  say("Keeping …");
  try {
    const kept = await keep.write(wanted.map((one) => ({...one, outing: state.board.outing.uuid})));
    const waiting = await counted();
    take(kept); // with what stands above it, so that none of the two is ever behind
    say(words);
    tell(waiting);
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
    state.storing -= 1;
  }
}

// Show entries that were kept just now, each once: they may have been read from the store meanwhile.
function take(kept) {
  const known = new Set(state.acts.map((entry) => entry.id));
  const fresh = kept.filter((entry) => !known.has(entry.id));
  state.acts.push(...fresh);
  state.entries.push(...fresh);
  again();
}

// How many entries are on this phone only; null where the store does not answer, which stands below.
const counted = () => keep.waitingCount().catch(() => null);

export async function tellKept() { tell(await counted()); }

function tell(waiting) {
  at("kept").className = waiting === 0 ? "kept clear" : "kept waits";
  at("left").textContent = waiting === 0 ? "All handed in" : waiting ? `${waiting} on this phone only` : "On this phone only";
  stand("adrift", keep.adrift.size ? `${plural(keep.adrift.size, "entry is", "entries are")} in the journal only, since this phone’s store does not take them. Save a copy, then close and open the page.` : "");
  remind();
}

export function remind() {
  const mine = state.entries.filter((entry) => entry.kind === "contact" && entry.status !== "taken");
  const {copied} = state;
  copied.count = Math.min(copied.count, mine.length);
  const since = Math.max(copied.at, mine.length ? Date.parse(mine[0].edited_at) : 0);
  const fresh = mine.length - copied.count;
  const due = fresh >= REMIND_EVERY || (fresh > 0 && Date.now() - since > HOUR);
  stand("copy", due ? `${plural(mine.length, "contact is", "contacts are")} on this phone only. Save a copy (under “Hand in”), so that a lost phone loses nothing.` : "");
}

export function named(kind, pk) {
  const rows = {radio: "radios", arrangement: "arrangements", pack: "packs"}[kind];
  const found = state.board?.gear[rows].find((one) => one.pk === pk);
  return !found ? "" : kind === "arrangement" ? `${found.antenna}: ${found.name}` : found.name;
}

// The kit that the outing goes with now, null if there is none.
export function kit() {
  return state.board.kits?.find((one) => one.pk === state.day.outing.kit) ?? null;
}

// Gear of one kind, what is in the kit first.
export function sorted(rows) {
  const found = kit();
  if (!found) return rows;
  const along = new Set(rows === state.board.gear.arrangements ? found.arrangements : found.items);
  return [...rows].sort((a, b) => along.has(b.pk) - along.has(a.pk));
}
