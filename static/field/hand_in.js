// Handing in: what waits on the phone goes to the server in batches; an entry leaves the queue only on its answer.

export const BATCH = 100;
export const SPOKEN = 1; // version of what phone and server say to each other
const ORDER = ["outing", "stint", "pause", "contact", "reading", "remark", "tick"];

// Why handing in stopped: `problem` is "unreachable", "login", "refused", "gone", "full", "newer" or "server".
export class Stopped extends Error {
  constructor(problem, words) {
    super(words);
    this.problem = problem;
  }
}

async function ask(fetcher, address, options = {}) {
  let answer;
  try {
    answer = await fetcher(address, {credentials: "same-origin", cache: "no-store", redirect: "error", ...options});
  } catch {
    throw new Stopped("unreachable", "The server cannot be reached from here. Everything stays on the phone.");
  }
  if (answer.status === 401) throw new Stopped("login", "The login has expired. Log in again; everything stays on the phone.");
  if (answer.status === 403) throw new Stopped("refused", "The server refused the page's token.");
  if (answer.status === 404) throw new Stopped("gone", "The server does not have this outing any more. What is on the phone stays.");
  if (answer.status === 507) throw new Stopped("full", "The server's disk is full. Everything stays on the phone.");
  if (answer.status >= 500) throw new Stopped("server", "The server has a problem. Everything stays on the phone; try again later.");
  let found;
  try {
    found = await answer.json();
  } catch {
    throw new Stopped("unreachable", "The answer broke off. Everything that was not confirmed stays on the phone.");
  }
  if (!answer.ok) throw new Stopped("refused", found.reason ?? "The server did not take this.");
  return found;
}

// Greet the server: its clock against ours (milliseconds, phone minus server, and how far off that may be), its token,
// and whether it still `has` the entry that it took last, if one is named.
export async function hello(fetcher = fetch, clock = Date.now, newest = "") {
  const asked = clock();
  const found = await ask(fetcher, newest ? `/field/hello/?newest=${newest}` : "/field/hello/");
  const answered = clock();
  if (found.version > SPOKEN) {
    throw new Stopped("newer", "The server is newer than this page. Load the page again; everything stays on the phone.");
  }
  return {
    token: found.token, callSign: found.call_sign, has: found.has,
    clockErrorMs: (asked + answered) / 2 - Date.parse(found.now), uncertainMs: (answered - asked) / 2,
  };
}

export async function outings(fetcher = fetch) { return (await ask(fetcher, "/field/outings/")).outings; }

export async function board(outing, fetcher = fetch) { return ask(fetcher, `/field/outings/${outing}/`); }

// An entry as it is handed in: what happens to it on the phone is nobody's business.
export function handedIn({id, kind, action, subject, seq, base, edited_at, values}) {
  return {id, kind, action, subject, seq, base, edited_at, values};
}

function inOrder(entries) {
  return [...entries].sort((a, b) => ORDER.indexOf(a.kind) - ORDER.indexOf(b.kind) || a.made - b.made);
}

// The server lost what it had taken, as when an older backup is brought back: all of that waits again. Returns how many
// entries, and those of outings that it lost too and that no entry makes anew, {outing: entries}.
async function handInAgain(keep, by, fetcher) {
  const found = {again: 0, lacking: {}};
  for (const [outing, entries] of Object.entries(await keep.taken(by))) {
    const isThere = entries.some((entry) => entry.kind === "outing") || await board(outing, fetcher).then(() => true, (problem) => {
      if (problem.problem !== "gone") throw problem;
      return false;
    });
    if (isThere) {
      await keep.waitAgain(entries);
      found.again += entries.length;
    } else found.lacking[outing] = entries;
  }
  await keep.setFact("newest_taken", null); // it is known now, and not looked for again
  return found;
}

// Hand in all that waits. `tell({done, total})` after every batch. Returns {done, refused, conflicts, again, lacking,
// clockErrorMs, uncertainMs}.
export async function handIn(keep, {fetcher = fetch, clock = Date.now, tell = () => {}} = {}) {
  const newest = await keep.fact("newest_taken");
  const greeted = await hello(fetcher, clock, newest?.id);
  await keep.setFact("clock_error_ms", greeted.clockErrorMs);
  const phone = await keep.phone();
  await keep.rescue();
  const isLost = greeted.has === false && newest.by === greeted.callSign;
  const {again, lacking} = isLost ? await handInAgain(keep, newest.by, fetcher) : {again: 0, lacking: {}};
  const waiting = inOrder(await keep.waiting());
  const result = {done: 0, refused: 0, conflicts: 0, again, lacking, clockErrorMs: greeted.clockErrorMs, uncertainMs: greeted.uncertainMs};
  let token = greeted.token;
  tell({done: 0, total: waiting.length});
  for (let at = 0; at < waiting.length; at += BATCH) {
    const batch = waiting.slice(at, at + BATCH);
    const body = JSON.stringify({
      phone, now: new Date(clock()).toISOString(), clock_error_s: greeted.clockErrorMs / 1000,
      entries: batch.map(handedIn),
    });
    const post = () => ask(fetcher, "/field/hand-in/", {
      method: "POST", body, headers: {"Content-Type": "application/json", "X-CSRFToken": token},
    });
    let found;
    try {
      found = await post();
    } catch (problem) {
      if (problem.problem !== "refused" || !/token/u.test(problem.message)) throw problem;
      ({token} = await hello(fetcher, clock)); // the token had changed, as it does after a new login
      found = await post();
    }
    const known = new Set(batch.map((entry) => entry.id));
    const answers = (found.answers ?? []).filter((answer) => known.has(answer.id));
    await keep.answered(answers, greeted.callSign);
    result.done += answers.filter((answer) => answer.outcome !== "refused").length;
    result.refused += answers.filter((answer) => answer.outcome === "refused").length;
    result.conflicts += answers.filter((answer) => answer.conflict).length;
    tell({done: at + batch.length, total: waiting.length});
  }
  await keep.setFact("handed_in_at", clock());
  return result;
}
