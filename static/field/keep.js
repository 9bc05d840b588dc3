// What the phone keeps: outings taken along, and every entry that was typed, in two stores that do not fail together.
//
// An entry is written to a journal (localStorage, at once) and to IndexedDB (durably); it counts as saved when IndexedDB
// has said so. After the phone was suspended an IndexedDB connection may be dead and never answer: a write that has not
// completed in two seconds is tried once more on a new connection, and then the page says so. What only the journal took
// is `adrift`: it is shown and counted like the rest, and put into the store as soon as that takes it. An outing is kept
// in IndexedDB and copied into a cache, since without it there is nothing to log on. At start the stores are compared,
// and what one of them lost comes back from the other.

import {openDB} from "../vendor/idb-8.0.4.js";
import {utc} from "./words.js";

export const DATABASE = "stationlog-field";
export const SCHEMA = 2;
export const PATIENCE_MS = 2000;
const ADRIFT = 1e12;
const JOURNAL = "stationlog-field/entry/";
const WAITING = "stationlog-field/waiting";
const PHONE = "stationlog-field/phone";
const MADE = "stationlog-field/made";
const COPY = "/field/kept/"; // addresses in the cache, which nobody asks the server for

export class NotKept extends Error {}

// A random UUID (version 4), also where there is no secure context and crypto.randomUUID is missing.
export function uuid() {
  if (crypto.randomUUID) return crypto.randomUUID();
  const bytes = crypto.getRandomValues(new Uint8Array(16));
  bytes[6] = (bytes[6] & 0x0f) | 0x40;
  bytes[8] = (bytes[8] & 0x3f) | 0x80;
  const hex = [...bytes].map((byte) => byte.toString(16).padStart(2, "0")).join("");
  return `${hex.slice(0, 8)}-${hex.slice(8, 12)}-${hex.slice(12, 16)}-${hex.slice(16, 20)}-${hex.slice(20)}`;
}

function within(promise, milliseconds) {
  let timer;
  const late = new Promise((_, reject) => {
    timer = setTimeout(() => reject(new NotKept("The phone's store does not answer.")), milliseconds);
  });
  return Promise.race([promise, late]).finally(() => clearTimeout(timer));
}

// Stores: boards (key: uuid of the outing), entries (key: id), rows (key: subject), facts (key: name).
// Version 1 kept entries without `status`; they are all waiting.
function upgrade(db, from, _to, transaction) {
  if (from < 1) {
    db.createObjectStore("boards", {keyPath: "uuid"});
    db.createObjectStore("entries", {keyPath: "id"}).createIndex("outing", "outing");
    db.createObjectStore("rows", {keyPath: "subject"});
    db.createObjectStore("facts", {keyPath: "name"});
  }
  if (from < 2) {
    const entries = transaction.objectStore("entries");
    entries.createIndex("status", "status");
    if (from === 1) {
      entries.openCursor().then(async function mend(cursor) {
        while (cursor) {
          if (!cursor.value.status) await cursor.update({...cursor.value, status: "waiting"});
          cursor = await cursor.continue();
        }
      });
    }
  }
}

export class Keep {
  constructor({name = DATABASE, storage = globalThis.localStorage, patience = PATIENCE_MS} = {}) {
    this.name = name;
    this.storage = storage;
    this.patience = patience;
    this.connection = null;
    this.adrift = new Map(); // entries, by id, that only the journal has
    this.troubles = new Set();
  }

  // Call `tell(words)` whenever the store does not do as it should.
  onTrouble(tell) { this.troubles.add(tell); }

  trouble(words) { for (const tell of this.troubles) tell(words); }

  async open() {
    this.connection = await within(openDB(this.name, SCHEMA, {
      upgrade,
      blocking: () => { this.connection?.close(); this.connection = null; },
      terminated: () => { this.connection = null; },
    }), this.patience * 2);
    return this.connection;
  }

  // Run `work(db)`; once more on a new connection when the first does not answer in time.
  async run(work) {
    for (const attempt of [1, 2]) {
      try {
        const db = this.connection ?? await this.open();
        return await within(work(db), this.patience);
      } catch (problem) {
        if (attempt === 2 || problem?.name === "QuotaExceededError" || problem?.name === "ConstraintError") {
          const full = problem?.name === "QuotaExceededError";
          this.trouble(full ? "This phone is full: free some space. What was typed is in the journal."
            : "This phone's store does not answer. Save a copy now, then close and open the page again.");
          throw problem;
        }
        this.connection?.close();
        this.connection = null;
      }
    }
    return undefined;
  }

  // This phone's own UUID, made once.
  async phone() {
    const kept = await this.fact("phone");
    if (kept) return kept;
    const mine = this.recall(PHONE) ?? uuid();
    this.remember(PHONE, mine);
    await this.setFact("phone", mine);
    return mine;
  }

  // What stands in localStorage beside IndexedDB, to outlive it; null where there is none or it is switched off.
  recall(name) {
    try { return this.storage?.getItem(name) ?? null; } catch { return null; }
  }

  remember(name, value) {
    try { this.storage?.setItem(name, String(value)); } catch { /* IndexedDB has it */ }
  }

  async fact(name) { return (await this.run((db) => db.get("facts", name)))?.value; }

  async setFact(name, value) { await this.run((db) => db.put("facts", {name, value})); }

  async board(outing) { return (await this.run((db) => db.get("boards", outing)))?.board; }

  // Every outing on the phone, the newest first.
  async boards() {
    const found = (await this.run((db) => db.getAll("boards"))).map((kept) => kept.board);
    return found.sort((a, b) => (a.outing.window_start < b.outing.window_start ? 1 : -1));
  }

  async keepBoard(board) {
    await this.run((db) => db.put("boards", {uuid: board.outing.uuid, board}));
    await this.copyBoard(board);
  }

  async copyBoard(board) {
    await this.withCopies((cache) => cache.put(COPY + board.outing.uuid, new Response(JSON.stringify(board))));
  }

  // Do `work(cache)` with the copies of boards; undefined where the browser has none to give, as without a secure context.
  async withCopies(work) {
    try {
      return await within(globalThis.caches.open(`boards-of-${this.name}`).then(work), this.patience);
    } catch {
      return undefined;
    }
  }

  // Compare boards and their copies at start, and fill up what either has lost.
  async reconcileBoards() {
    const copies = await this.withCopies((cache) => cache.keys());
    if (!copies) return;
    const kept = await this.run((db) => db.getAllKeys("boards"));
    const copied = copies.map(({url}) => url.slice(url.lastIndexOf("/") + 1));
    for (const outing of copied.filter((one) => !kept.includes(one))) {
      const board = await this.withCopies(async (cache) => (await cache.match(COPY + outing)).json());
      if (board) await this.run((db) => db.put("boards", {uuid: outing, board}));
    }
    for (const outing of kept.filter((one) => !copied.includes(one))) await this.copyBoard(await this.board(outing));
  }

  // How many acts this phone has made, as it is known outside IndexedDB.
  counted() { return Number(this.recall(MADE) ?? 0); }

  setCounted(count) { this.remember(MADE, Math.max(count, this.counted())); }

  // Keep acts as entries, all or none, durably; resolves with them once IndexedDB has them. An act is
  // {kind, action, subject, values, outing, base}; seq rises with every act of this phone, also after IndexedDB was lost,
  // and base comes from what it did to the row before. Where the store does not take them it throws NotKept; `journalled`
  // are then the entries if the journal has them all.
  async write(acts, now = new Date()) {
    const entries = acts.map((act) => ({
      id: uuid(), action: "put", status: "waiting", edited_at: utc(now, {fraction: true}), ...act,
    }));
    const sequence = () => this.run(async (db) => {
      const transaction = db.transaction(["entries", "rows", "facts"], "readwrite", {durability: "strict"});
      const rows = transaction.objectStore("rows");
      const made = transaction.objectStore("facts");
      let count = Math.max((await made.get("made"))?.value ?? 0, this.counted());
      for (const entry of entries) {
        const row = (await rows.get(entry.subject)) ?? {subject: entry.subject, seq: 0, base: entry.base ?? 0};
        count = Math.max(count, row.seq) + 1;
        Object.assign(entry, {seq: count, made: count, base: Math.max(row.base, entry.base ?? 0)});
        rows.put({...row, seq: count});
        transaction.objectStore("entries").put(entry);
      }
      made.put({name: "made", value: count});
      await transaction.done;
      return count;
    });
    const journalled = entries.map((entry) => this.journal(entry)).every(Boolean);
    await this.rescue(); // first what was typed before
    try {
      this.setCounted(await sequence());
    } catch (problem) {
      if (journalled) for (const entry of entries) this.setAdrift(entry);
      throw Object.assign(new NotKept("The phone's store did not take this."), {cause: problem, journalled: journalled ? entries : null});
    }
    for (const entry of entries) this.journal(entry); // now with seq, base and made
    this.note().catch(() => {}); // counted again at the next start
    return entries;
  }

  // After all that the store has, until it gets its place there; the journal knows nothing of this.
  setAdrift({seq: _, ...entry}) { this.adrift.set(entry.id, {...entry, made: ADRIFT + this.adrift.size}); }

  journal(entry) {
    try {
      this.storage.setItem(JOURNAL + entry.id, JSON.stringify(entry));
      return true;
    } catch {
      this.trouble("The journal is full; save a copy and hand in when you can.");
      return false;
    }
  }

  // Every journalled entry, by id.
  journalled() {
    const found = new Map();
    try {
      for (let index = 0; index < (this.storage?.length ?? 0); index += 1) {
        const key = this.storage.key(index);
        if (!key?.startsWith(JOURNAL)) continue;
        try {
          const entry = JSON.parse(this.storage.getItem(key));
          if (entry?.id) found.set(entry.id, entry);
        } catch { /* a torn record: the other store has it, or the count says that one is missing */ }
      }
    } catch { /* a store that is switched off */ }
    return found;
  }

  // Remember how many entries wait, beside the entries themselves.
  async note() {
    const count = await this.waitingCount();
    this.remember(WAITING, count);
    return count;
  }

  async waitingCount() {
    return this.adrift.size + await this.run(async (db) => (await db.countFromIndex("entries", "status", "waiting"))
      + await db.countFromIndex("entries", "status", "refused"));
  }

  // Put entries that only the journal has into the store, each in its place.
  async restore(lost) {
    this.setCounted(await this.run(async (db) => {
      const transaction = db.transaction(["entries", "rows", "facts"], "readwrite", {durability: "strict"});
      const rows = transaction.objectStore("rows");
      const facts = transaction.objectStore("facts");
      let count = Math.max((await facts.get("made"))?.value ?? 0, this.counted());
      lost.sort((a, b) => (a.made ?? Infinity) - (b.made ?? Infinity) || (a.edited_at < b.edited_at ? -1 : 1));
      for (const entry of lost) {
        if (await transaction.objectStore("entries").getKey(entry.id)) continue; // a write that was only late
        const row = (await rows.get(entry.subject)) ?? {subject: entry.subject, seq: 0, base: entry.base ?? 0};
        entry.made ??= Math.max(count, row.seq) + 1;
        entry.seq ??= entry.made;
        entry.base ??= row.base;
        count = Math.max(count, entry.made);
        rows.put({...row, seq: Math.max(row.seq, entry.seq)});
        transaction.objectStore("entries").put({...entry, status: "waiting"});
      }
      facts.put({name: "made", value: count});
      await transaction.done;
      return count;
    }));
  }

  // Try again what the store did not take; says whether nothing is adrift any more.
  async rescue() {
    if (!this.adrift.size) return true;
    const lost = [...this.adrift.values()].map(({made: _, ...entry}) => entry);
    try {
      await this.restore(lost);
    } catch {
      return false; // the journal has it, and the next time may be better
    }
    for (const entry of lost) {
      this.adrift.delete(entry.id);
      this.journal(entry);
    }
    return true;
  }

  // Compare both stores at start: entries that only the journal has come back; says how many, and how many are missing.
  async reconcile() {
    const journal = this.journalled();
    const kept = await this.run((db) => db.getAll("entries"));
    const known = new Set(kept.map((entry) => entry.id));
    const lost = [...journal.values()].filter((entry) => !known.has(entry.id));
    if (lost.length) {
      try {
        await this.restore(lost);
      } catch {
        for (const entry of lost) this.setAdrift(entry);
      }
    }
    for (const entry of kept) {
      if (entry.status !== "taken" && !journal.has(entry.id)) this.journal(entry);
    }
    const expected = Number(this.recall(WAITING) ?? 0);
    const waiting = await this.note();
    return {recovered: lost.length - this.adrift.size, missing: Math.max(0, expected - waiting), waiting};
  }

  // All entries of an outing in the order in which they were made.
  async entries(outing) {
    const found = await this.run((db) => db.getAllFromIndex("entries", "outing", outing));
    const known = new Set(found.map((entry) => entry.id));
    const adrift = [...this.adrift.values()].filter((entry) => entry.outing === outing && !known.has(entry.id));
    return [...found, ...adrift].sort((a, b) => a.made - b.made);
  }

  // Entries that the server has not taken yet, or those of another status, in the order in which they were made.
  async waiting(status = "waiting") {
    const found = await this.run((db) => db.getAllFromIndex("entries", "status", status));
    return found.sort((a, b) => a.made - b.made);
  }

  // Mark what the server answered: taken entries leave the journal, refused ones stay with the reason. `by` is the call
  // sign of the log that took them.
  async answered(answers, by = "") {
    const done = [];
    await this.run(async (db) => {
      const transaction = db.transaction(["entries", "rows", "facts"], "readwrite", {durability: "strict"});
      const entries = transaction.objectStore("entries");
      const rows = transaction.objectStore("rows");
      for (const answer of answers) {
        const entry = await entries.get(answer.id);
        if (!entry) continue;
        if (answer.outcome === "taken" || answer.outcome === "had") {
          entry.status = "taken";
          entry.taken_by = by;
          entry.answered_at = utc(new Date(), {fraction: true});
          entry.reason = "";
          done.push(entry.id);
          const row = await rows.get(entry.subject);
          if (row && answer.revision) rows.put({...row, base: Math.max(row.base, answer.revision)});
        } else if (answer.outcome === "refused") {
          entry.status = "refused";
          entry.reason = answer.reason;
        } else continue;
        entries.put(entry);
      }
      if (done.length) transaction.objectStore("facts").put({name: "newest_taken", value: {id: done.at(-1), by}});
      await transaction.done;
    });
    for (const id of done) this.storage?.removeItem(JOURNAL + id);
    await this.note();
    return done.length;
  }

  // What a log has taken and the phone still has, {outing: entries}.
  async taken(by) {
    const found = {};
    for (const entry of await this.waiting("taken")) {
      if ((entry.taken_by ?? by) === by) (found[entry.outing] ??= []).push(entry);
    }
    return found;
  }

  // Put taken or refused entries back in line, to be handed in once more.
  async waitAgain(entries) {
    for (const entry of entries) {
      Object.assign(entry, {status: "waiting", reason: "", answered_at: undefined});
      this.journal(entry);
    }
    await this.run(async (db) => {
      const transaction = db.transaction("entries", "readwrite", {durability: "strict"});
      for (const entry of entries) transaction.store.put(entry);
      await transaction.done;
    });
  }

  // Forget taken entries and outings of long ago; what waits stays, and the outing that it is of.
  async tidy(before) {
    const left = await this.run(async (db) => {
      const transaction = db.transaction("entries", "readwrite");
      for (const entry of await transaction.store.index("status").getAll("taken")) {
        if (entry.edited_at < before) transaction.store.delete(entry.id);
      }
      const found = await transaction.store.getAll();
      await transaction.done;
      return found;
    });
    const needed = new Set([...left, ...this.adrift.values()].map((entry) => entry.outing)).add(await this.fact("open"));
    for (const {outing} of await this.boards()) {
      const ended = outing.window_end ?? outing.window_start;
      if (ended >= before || needed.has(outing.uuid)) continue;
      await this.withCopies((cache) => cache.delete(COPY + outing.uuid)); // first, or it would come back
      await this.run((db) => db.delete("boards", outing.uuid));
    }
  }
}
