// Ready for the field? Everything that would fail out there, tried on this phone now; green only when it is true.

import * as handing from "./hand_in.js";
import {uuid} from "./keep.js";
import {at, made} from "./screen.js";
import {keep, kit, state} from "./state.js";
import {plural} from "./words.js";

const SPACE_MB = 20;
const CLOCK_S = 5;
let newest = 0; // how often all was tried: what an earlier trial finds late is not said

async function offline() {
  if (!("serviceWorker" in navigator)) return ["bad", "Not here: without a secure context the page is not kept. It works while it stays open."];
  const registration = await navigator.serviceWorker.getRegistration("/field/");
  if (!registration?.active) return ["bad", "The page is not kept yet. Wait a moment and try again."];
  if (!navigator.serviceWorker.controller) return ["open", "Kept, but this view came from the network. Load the page once more."];
  const told = await new Promise((resolve, reject) => {
    navigator.serviceWorker.addEventListener("message", (event) => resolve(event.data), {once: true});
    navigator.serviceWorker.controller.postMessage("parts");
    setTimeout(() => reject(new Error("The worker does not answer.")), 3000);
  });
  const cache = await caches.open(`stationlog-field-${told.version}`);
  for (const part of told.parts) {
    const kept = await cache.match(part);
    if (!kept?.ok || !(await kept.arrayBuffer()).byteLength) return ["bad", `${part} is missing. Load the page again while the server can be reached.`];
  }
  return "good";
}

async function storage() {
  if (!navigator.storage?.persist) return ["open", "This browser makes no such promise. Put the page on the home screen and open it from there within seven days."];
  return (await navigator.storage.persisted()) || (await navigator.storage.persist()) ? "good" : ["open", "Not promised. Put the page on the home screen, and hand in the same day."];
}

async function space() {
  if (!navigator.storage?.estimate) return ["open", "This browser does not tell."];
  const {quota, usage} = await navigator.storage.estimate();
  const free = Math.round((quota - usage) / 1e6);
  return free > SPACE_MB ? "good" : ["bad", `Only ${free} MB left. Free some space.`];
}

async function writes() {
  const word = uuid();
  await keep.setFact("trial", word);
  return (await keep.fact("trial")) === word ? "good" : ["bad", "It gave back something else."];
}

function aboard() {
  const {board} = state;
  if (!board) return ["bad", "No outing was taken along."];
  const missing = [!board.gear.radios.length && "radios", !board.gear.arrangements.length && "arrangements"].filter(Boolean);
  if (missing.length) return ["bad", `On board, but without ${missing.join(" and ")}.`];
  return kit() ? "good" : ["open", "On board, but no kit was chosen for this outing."];
}

async function queue() {
  const count = await keep.waitingCount();
  return count ? ["bad", `${plural(count, "entry waits", "entries wait")}. Hand in first.`] : "good";
}

export async function ready() {
  newest += 1;
  const mine = newest;
  const greeting = handing.hello(); // one for both lines that need it
  const server = async () => {
    try {
      await greeting;
      return "good";
    } catch (problem) {
      if (problem.problem !== "unreachable") return ["bad", problem.message];
      return ["open", "Not from here. If it does not answer at home either, the computer has another name or address now: save a copy here, take it in on the laptop under Files, and pair this phone anew before you leave."];
    }
  };
  const clock = async () => {
    try {
      const {clockErrorMs, uncertainMs} = await greeting;
      const off = Math.abs(clockErrorMs) / 1000;
      return off < CLOCK_S + uncertainMs / 1000 ? "good" : ["bad", `It is ${Math.round(off)} s off. Set the phone’s time to automatic.`];
    } catch { return ["open", "Not known while the server does not answer."]; }
  };
  const secure = () => (window.isSecureContext ? "good" : ["bad", "No: the certificate is not trusted, so the page works only while it stays open. Pair the phone anew and trust the certificate."]);
  const lines = [
    ["This page is a secure context", secure], ["The page opens without a network", offline], [`The server answers at ${location.host}`, server],
    ["The clock agrees with the server", clock], ["The phone promises to keep the store", storage], ["There is space left", space],
    ["The store takes a line and gives it back", writes], ["Outing and gear are on board", aboard], ["Nothing waits from before", queue],
  ];
  const rows = lines.map(([text]) => made("li", {}, made("span", {textContent: text})));
  at("ready").replaceChildren(...rows, made("li", {className: "open"}, made("span", {textContent: "The phone’s battery: not known to this page. Look at it yourself."})));
  const found = await Promise.all(lines.map(async ([text, check], index) => {
    let answer;
    try { answer = await check(); } catch (problem) { answer = ["bad", String(problem.message ?? problem)]; }
    const [result, words] = Array.isArray(answer) ? answer : [answer, ""];
    rows[index].className = result;
    rows[index].firstElementChild.textContent = words ? `${text}: ${words}` : text;
    return result;
  }));
  if (mine !== newest) return;
  const bad = found.filter((result) => result === "bad").length;
  const open = found.filter((result) => result === "open").length;
  at("verdict").className = bad ? "verdict bad" : open ? "verdict open" : "verdict good";
  at("verdict").textContent = bad ? `Not ready: ${plural(bad, "line")} to mend.` : open ? `Nothing is wrong; ${plural(open, "line")} cannot be told.` : "Ready, but for the phone’s battery, which only you can see.";
}
