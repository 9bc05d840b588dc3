// The field page: its parts put together, kept on the phone, and begun. What is typed goes to `keep` first and is shown
// as kept only then.

import * as air from "./air.js";
import * as counters from "./counters.js";
import * as fairTest from "./fair_test.js";
import {drawQueue, handIn, saveCopy} from "./home.js";
import * as log from "./log.js";
import * as measure from "./measure.js";
import * as outing from "./outing.js";
import {ready} from "./ready.js";
import {at, inTurn, show, stand} from "./screen.js";
import {keep, state, tellKept, whenDrawn} from "./state.js";
import {plural, utc} from "./words.js";

let lock = null;
async function wake() {
  if (!("wakeLock" in navigator) || lock || !state.day?.running || document.hidden) return;
  try {
    lock = await navigator.wakeLock.request("screen");
    lock.addEventListener("release", () => { lock = null; });
  } catch { /* low battery: the phone decides */ }
}

for (const draw of [air.draw, log.draw, measure.draw, measure.drawChecklist, counters.draw, outing.draw, fairTest.draw, wake]) whenDrawn(draw);

function theme(name) {
  if (name === "auto") delete document.documentElement.dataset.theme;
  else document.documentElement.dataset.theme = name;
  for (const one of at("themes").children) one.setAttribute("aria-pressed", String(one.dataset.theme === name));
}

function part(name) {
  for (const one of document.querySelectorAll(".field-nav button")) one.setAttribute("aria-pressed", String(one.dataset.part === name));
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
    const watch = () => registration.installing?.addEventListener("statechange", offer);
    registration.addEventListener("updatefound", watch);
    watch(); // it may have been found before
    offer();
    registration.update().catch(() => {});
  } catch (problem) {
    stand("worker", `The page could not be kept on the phone (${problem.name}). It works while it stays open. The certificate must be trusted, not clicked away.`);
  }
}

function listen() {
  log.begin();
  measure.begin();
  const anew = async () => {
    try { await outing.takeAlong(state.board.outing.uuid); } catch (problem) { at("handed").textContent = problem.message; }
  };
  for (const [id, work] of Object.entries({
    "change": air.change, "pause": inTurn(air.pauseOrGoOn), "stop": air.stop, "undo": inTurn(log.undo), "all-contacts": log.drawAll,
    "hand-in": () => handIn(), "copy": saveCopy, "copy-all": saveCopy, "next-site": outing.nextSite, "change-kit": outing.changeKit, "other": outing.choose,
    "try-ready": ready, "refresh": anew,
  })) at(id).addEventListener("click", work);
  for (const one of document.querySelectorAll(".field-nav button")) one.addEventListener("click", () => part(one.dataset.part));
  for (const one of at("themes").children) one.addEventListener("click", () => { theme(one.dataset.theme); keep.setFact("theme", one.dataset.theme); });
  addEventListener("online", () => handIn({quietly: true}));
  document.addEventListener("visibilitychange", () => { if (!document.hidden) { wake(); handIn({quietly: true}); } });
  addEventListener("beforeunload", (event) => { if (state.storing || (!window.isSecureContext && at("kept").classList.contains("waits"))) event.preventDefault(); });
  setInterval(fairTest.tick, 1000);
  setInterval(() => { at("utc").textContent = utc(new Date()).slice(11, 19); }, 500);
  setInterval(() => { if (state.day) { counters.draw(); air.askForgotten(Date.now()); } }, 15_000);
  setInterval(() => handIn({quietly: true}), 60_000);
}

async function openLast() {
  const wanted = new URLSearchParams(location.search).get("outing");
  if (wanted && !(await keep.board(wanted))) {
    try { await outing.takeAlong(wanted); } catch { /* the list says what is here */ }
  }
  const last = wanted ?? (await keep.fact("open"));
  if (!last || !(await outing.open(last))) await outing.choose();
}

async function begin() {
  keep.onTrouble((words) => stand("store", words));
  if (!window.isSecureContext) stand("secure", "No secure context: the page works only while it stays open, and nothing promises that the phone keeps its store. Save copies.");
  keepPage();
  listen();
  try {
    await keep.reconcileBoards();
    const found = await keep.reconcile();
    if (found.recovered) stand("recovered", `${plural(found.recovered, "entry", "entries")} came back from the journal.`);
    if (found.missing) stand("missing", `${plural(found.missing, "entry that waited here is", "entries that waited here are")} gone: the phone cleared its store. Look at your last saved copy.`);
    theme((await keep.fact("theme")) ?? "auto");
    state.copied = (await keep.fact("copy")) ?? state.copied;
    await openLast();
    await tellKept();
    document.body.dataset.ready = "yes";
    handIn({quietly: true});
  } catch {
    at("left").textContent = "The phone’s store cannot be opened. Close other copies of this page and try again.";
  }
}

begin();
