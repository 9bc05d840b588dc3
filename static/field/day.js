// The outing as it stands on the phone: what came from the server and what was typed since, put together. No page, no
// store and no clock in here: data in, data out.

const FAMILY = {CW: "cw", PCW: "cw"};

// Rows of every kind after the entries: {contact: Map, stint: Map, pause: Map, reading: Map, remark: Map, tick: Map}.
export function rowsOf(board, entries) {
  const rows = {
    outing: new Map([[board.outing.uuid, board.outing]]), stint: new Map(), pause: new Map(), contact: new Map(), reading: new Map(), remark: new Map(),
    tick: new Map(),
  };
  for (const {pauses, ...stint} of board.stints ?? []) {
    rows.stint.set(stint.uuid, stint);
    for (const pause of pauses) rows.pause.set(pause.uuid, {...pause, stint: stint.uuid});
  }
  for (const contact of board.contacts ?? []) rows.contact.set(contact.uuid, contact);
  for (const line of board.checklist ?? []) rows.tick.set(line.uuid, line);
  for (const remark of board.remarks ?? []) rows.remark.set(remark.uuid, remark);
  for (const reading of board.readings ?? []) rows.reading.set(reading.uuid, reading);
  const born = new Map(); // how rows of the same second follow each other: by their first entry, whatever was edited since
  for (const entry of entries) {
    const known = rows[entry.kind];
    if (!known) continue;
    if (!born.has(entry.subject)) born.set(entry.subject, known.has(entry.subject) ? 0 : entry.made);
    if (entry.action === "delete") known.delete(entry.subject);
    else {
      const before = known.get(entry.subject);
      known.set(entry.subject, {
        ...before, ...entry.values, uuid: entry.subject, revision: before?.revision ?? 0, status: entry.status,
        made: born.get(entry.subject),
      });
    }
  }
  return rows;
}

// The state that the page shows.
export function dayOf(board, entries) {
  const rows = rowsOf(board, entries);
  const byTime = (a, b) => (a.started_at < b.started_at ? -1 : a.started_at > b.started_at ? 1 : (a.made ?? 0) - (b.made ?? 0));
  const stints = [...rows.stint.values()].sort(byTime).map((stint) => ({
    ...stint, pauses: [...rows.pause.values()].filter((pause) => pause.stint === stint.uuid).sort(byTime),
  }));
  const contacts = [...rows.contact.values()].sort(byTime);
  const outing = {...board.outing, ...rows.outing.get(board.outing.uuid), site: board.outing.site, title: board.outing.title};
  return {
    outing, stints, contacts, running: stints.findLast((stint) => !stint.ended_at) ?? null,
    checklist: [...rows.tick.values()].sort((a, b) => a.position - b.position),
    remarks: [...rows.remark.values()].sort((a, b) => (a.at < b.at ? -1 : 1)),
    readings: [...rows.reading.values()].sort((a, b) => (a.at < b.at ? -1 : 1)),
  };
}

// Seconds of a stint on the air until a moment (milliseconds), without its pauses.
export function onAirSeconds(stint, now) {
  const start = Date.parse(stint.started_at);
  const end = stint.ended_at ? Date.parse(stint.ended_at) : now;
  let seconds = 0;
  let at = start;
  for (const pause of stint.pauses) {
    const from = Date.parse(pause.started_at);
    if (from >= end) break;
    seconds += Math.max(0, from - at);
    at = Math.max(at, Math.min(pause.ended_at ? Date.parse(pause.ended_at) : end, end));
  }
  return Math.max(0, Math.round((seconds + Math.max(0, end - at)) / 1000));
}

export function openPause(stint) {
  return stint && !stint.ended_at ? stint.pauses.find((pause) => !pause.ended_at) ?? null : null;
}

// Contacts that count, against the goal and the clock.
export function counters(day, now) {
  const counted = day.contacts.filter((contact) => !contact.pending);
  const times = counted.map((contact) => Date.parse(contact.started_at)).filter((time) => time <= now).sort((a, b) => a - b);
  const hourAgo = now - 3_600_000;
  const begun = day.stints.length ? Date.parse(day.stints[0].started_at) : now;
  const days = new Map();
  for (const contact of counted) {
    const utcDay = contact.started_at.slice(0, 10);
    days.set(utcDay, (days.get(utcDay) ?? 0) + 1);
  }
  return {
    contacts: counted.length,
    pending: day.contacts.length - counted.length,
    goal: day.outing.goal_contacts ?? null,
    pastHour: times.filter((time) => time > hourAgo).length,
    hourIsWhole: now - begun >= 3_600_000,
    newestTenMinutes: times.length >= 10 ? (now - times[times.length - 10]) / 60_000 : null,
    onAirSeconds: day.stints.reduce((sum, stint) => sum + onAirSeconds(stint, now), 0),
    days: [...days].sort(),
    lastAt: times.length ? times[times.length - 1] : null,
  };
}

// "cw", "phone", "data", or "" for none; the modes that are voice come with the board.
export function family(mode, phoneModes) {
  if (!mode) return "";
  return FAMILY[mode] ?? (phoneModes.includes(mode) ? "phone" : "data");
}

function referencesOf(text) {
  return new Set((text ?? "").toUpperCase().split(/[,;\s]+/u).filter(Boolean));
}

// What a contact would repeat: same own call, call, band, family of modes and UTC day, at this outing or at another of
// the day with the same own references; a reference of theirs that is new makes it a new one.
export function repeats(board, day, wanted) {
  const phone = board.phone_modes ?? [];
  const key = (contact) => [contact.call, contact.band, family(contact.mode, phone), contact.started_at.slice(0, 10)].join("|");
  const ours = JSON.stringify(board.outing.references ?? []).toUpperCase();
  const elsewhere = (board.same_day ?? []).filter((contact) => JSON.stringify(contact.references ?? []).toUpperCase() === ours);
  const same = [...day.contacts.filter((contact) => contact.uuid !== wanted.uuid), ...elsewhere]
    .filter((contact) => key(contact) === key(wanted));
  const theirs = referencesOf(wanted.their_reference);
  if (!theirs.size) return same;
  const known = new Set(same.flatMap((contact) => [...referencesOf(contact.their_reference)]));
  if ([...theirs].some((reference) => !known.has(reference))) return [];
  return same.filter((contact) => [...theirs].some((reference) => referencesOf(contact.their_reference).has(reference)));
}

// Earlier contacts with a call: {c, t, b, m, n, g, s, k} of the board, or null.
export function earlier(board, call) {
  board.earlierByCall ??= new Map((board.earlier ?? []).map((one) => [one.c, one]));
  return board.earlierByCall.get(call) ?? null;
}

// The stint that covers a time, the latest begun; null if none does. A time without seconds is anywhere in its minute.
export function stintAt(day, at, seconds = true) {
  const latest = seconds ? at : `${at.slice(0, 17)}59Z`;
  const fitting = day.stints.filter((stint) => stint.started_at <= latest && (!stint.ended_at || at <= stint.ended_at));
  return fitting.at(-1) ?? null;
}

// The next events of the light after a moment: {sunset, dusk, sunrise, dawn} in milliseconds, null where none comes.
export function nextLight(board, now) {
  const next = (what) => {
    const event = (board.light ?? []).find((one) => one.what === what && Date.parse(one.at) > now);
    return event ? Date.parse(event.at) : null;
  };
  return {sunset: next("sunset"), dusk: next("dusk"), sunrise: next("sunrise"), dawn: next("dawn")};
}

// The next UTC midnight after a moment, milliseconds.
export function utcDayChange(now) {
  return (Math.floor(now / 86_400_000) + 1) * 86_400_000;
}

// A stint goes on without any entry for longer than so many minutes: perhaps stopping was forgotten. Says when the last
// contact was, and since when there is nothing: {stint, lastContactAt, since}; null while all is well.
export function forgotten(day, now, minutes = 20) {
  const stint = day.running;
  if (!stint || openPause(stint)) return null;
  const mine = day.contacts.filter((contact) => contact.stint === stint.uuid).map((contact) => Date.parse(contact.started_at));
  const others = [
    ...day.readings.map((reading) => reading.at), ...day.remarks.map((remark) => remark.at),
    ...day.checklist.map((line) => line.ticked_at), ...stint.pauses.map((pause) => pause.ended_at),
  ].filter(Boolean).map((moment) => Date.parse(moment));
  const since = Math.max(Date.parse(stint.started_at), ...mine, ...others.filter((moment) => moment <= now));
  return now - since > minutes * 60_000 ? {stint, lastContactAt: mine.length ? Math.max(...mine) : null, since} : null;
}

const STINT_COLUMNS = [
  "follows", "radio", "arrangement", "pack", "other_source", "power_w", "band", "frequency_hz", "mode", "submode",
  "tuner_in", "calling", "swr_at_radio", "started_at", "ended_at", "setup_min", "takedown_min", "note", "block",
];
const CARRIED = STINT_COLUMNS.slice(1, 13);

export function stintValues(outing, stint) {
  return {outing, ...Object.fromEntries(STINT_COLUMNS.map((name) => [name, stint[name] ?? null]))};
}

const CONTACT_COLUMNS = [
  "stint", "call", "pending", "started_at", "seconds_known", "band", "frequency_hz", "mode", "submode", "rst_sent",
  "rst_rcvd", "station_call", "operator_call", "power_w", "their_grid", "their_programme", "their_reference", "name",
  "qth", "state", "country", "comment", "notes", "exchange_sent", "exchange_rcvd", "serial_sent", "serial_rcvd",
];

export function contactValues(outing, contact) {
  return {outing, ...Object.fromEntries(CONTACT_COLUMNS.map((name) => [name, contact[name] ?? null]))};
}

// Acts that end the running stint at a moment and begin the next with what was changed; contacts from then on follow.
export function changeOnAir(day, changes, at, makeUuid) {
  const outing = day.outing.uuid;
  const before = day.running;
  const subject = makeUuid();
  const carried = before ? Object.fromEntries(CARRIED.map((name) => [name, before[name] ?? null])) : {};
  const same = before && (!("arrangement" in changes) || changes.arrangement === before.arrangement);
  const block = same ? before.block ?? null : null; // of a fair test, which asked for this very arrangement
  const next = {...carried, block, ...changes, follows: before?.uuid ?? null, started_at: at, ended_at: null};
  const acts = [];
  if (before) {
    acts.push(act("stint", before, stintValues(outing, {...before, ended_at: at}), outing));
    for (const pause of before.pauses) {
      if (!pause.ended_at) acts.push(act("pause", pause, {...pauseValues(pause), ended_at: at}, outing));
    }
  }
  acts.push({kind: "stint", subject, values: stintValues(outing, next), outing, base: 0});
  for (const contact of day.contacts) {
    if (before && contact.stint === before.uuid && contact.started_at >= at) {
      acts.push({...act("contact", contact, contactValues(outing, {...contact, stint: subject}), outing), follows: true});
    }
  }
  return {acts, subject};
}

// Acts that end the running stint at a moment; contacts after it keep their stint none.
export function stopStint(day, at) {
  const outing = day.outing.uuid;
  const stint = day.running;
  const acts = [act("stint", stint, stintValues(outing, {...stint, ended_at: at}), outing)];
  for (const pause of stint.pauses) {
    if (!pause.ended_at || pause.ended_at > at) {
      acts.push(pause.started_at >= at ? {...act("pause", pause, {}, outing), action: "delete"}
        : act("pause", pause, {...pauseValues(pause), ended_at: at}, outing));
    }
  }
  for (const contact of day.contacts) {
    if (contact.stint === stint.uuid && contact.started_at > at) {
      acts.push({...act("contact", contact, contactValues(outing, {...contact, stint: null}), outing), follows: true});
    }
  }
  return acts;
}

// The newest act on a contact that can be taken back: {last, act}, null if there is none. What followed from a change on
// the air is no act of its own; taking back is marked with `undoes`, so that the next one goes further back. What a
// contact of the board was before an edit is known until the board has the edit, too.
export function takeBack(board, day, acts) {
  const undone = new Set(acts.map((entry) => entry.undoes));
  const before = (entry) => acts.findLast((one) => one.subject === entry.subject && one.made < entry.made);
  const last = acts.findLast((entry) => entry.kind === "contact" && !entry.undoes && !entry.follows && !undone.has(entry.id)
    && (before(entry) || !entry.base || entry.status !== "taken"));
  if (!last) return null;
  const outing = day.outing.uuid;
  const onBoard = (board.contacts ?? []).find((contact) => contact.uuid === last.subject);
  const known = before(last) ? before(last).action === "put" && before(last).values : last.base ? onBoard : null;
  const row = day.contacts.find((contact) => contact.uuid === last.subject) ?? {...last.values, uuid: last.subject, revision: onBoard?.revision ?? 0};
  const back = known ? act("contact", row, contactValues(outing, {...known, stint: row.stint ?? known.stint}), outing)
    : {...act("contact", row, contactValues(outing, row), outing), action: "delete"};
  return {last, act: {...back, undoes: last.id}};
}

export function pauseValues(pause) {
  return {stint: pause.stint, started_at: pause.started_at, ended_at: pause.ended_at ?? null};
}

export function act(kind, row, values, outing) {
  return {kind, subject: row.uuid, values, outing, base: row.revision ?? 0};
}
