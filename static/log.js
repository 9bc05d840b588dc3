// The log page: keys of the row that contacts are typed into, nothing lost while a request is on its way, the UTC clock.

let ahead_ms = 0; // by how much the clock of the server is ahead of this one
const row = () => document.getElementById("entry-form");
const say = (text) => {
  const state = document.getElementById("entry-state");
  if (state) state.textContent = text;
};

// --- Keys ---------------------------------------------------------------------------------------------------------

const BLANKS_ALLOWED = ["name", "comment", "their_programme", "exchange_rcvd", "tuning", "mode_typed"];

// Alt with an access key works in every browser; one that has done it already says so by preventing the default.
document.addEventListener("keydown", (event) => {
  if (!event.altKey || event.ctrlKey || event.metaKey || event.defaultPrevented) return;
  const named = document.querySelector(`[accesskey="${event.code.replace("Key", "").toLowerCase()}"]`);
  if (!named) return;
  event.preventDefault();
  named.click();
});

document.addEventListener("keydown", (event) => {
  const field = event.target;
  if (event.ctrlKey || event.altKey || event.metaKey || !row()) return;
  if (event.key === "Escape" && row().contains(field)) {
    row().elements.call.select();
    return;
  }
  if (event.key !== " " || field.form !== row() || field.tagName !== "INPUT" || BLANKS_ALLOWED.includes(field.name)) return;
  event.preventDefault();
  const fields = inputs(row()).filter((input) => input.checkVisibility());
  const next = fields[fields.indexOf(field) + (event.shiftKey ? -1 : 1)];
  next?.focus();
  next?.select?.();
});

// --- What is typed while the contact before is still on its way --------------------------------------------------
// Enter sends the row and selects its call, so that the next call can be typed over it at once. Rows entered before the
// answer wait their turn, each with the time of its key press; a row that is refused or not sent comes back whole.

let flight = null; // the row that was sent: its values and the time of the key press
let waiting = []; // rows typed meanwhile; those without `at` were not entered yet
let touched = new Set(); // fields typed into since the row was sent

const inputs = (form) => [...form.elements].filter((e) => e.matches("input:not([type=hidden]), select"));
const values = (form) => Object.fromEntries(inputs(form).map((field) => [field.name, field.value]));
const isRow = (event) => (event.detail.requestConfig?.elt ?? event.detail.elt)?.id === "entry-form";
const stamp = () => new Date(Date.now() + ahead_ms).toISOString().slice(11, 19).replaceAll(":", "");

function typedSince() {
  return Object.fromEntries([...touched].map((name) => [name, row().elements[name]?.value ?? ""]));
}

function fill(typed) {
  for (const [name, value] of Object.entries(typed)) if (row().elements[name]) row().elements[name].value = value;
}

function laidAside(typed) {
  if (Object.keys(typed).length) waiting.push({ typed });
  touched.clear();
  const calls = waiting.map((line) => line.typed.call).filter(Boolean);
  return calls.length ? ` Kept for after it: ${calls.join(", ")}.` : "";
}

document.addEventListener("input", (event) => {
  if (flight && event.target.form === row()) touched.add(event.target.name);
});

// Entered while another is on its way: htmx must not see it yet.
document.addEventListener("submit", (event) => {
  if (event.target !== row() || !flight || event.submitter?.id === "look" || event.submitter?.name === "take") return;
  event.preventDefault();
  event.stopImmediatePropagation();
  if (touched.size) waiting.push({ typed: typedSince(), at: stamp() });
  touched.clear();
  row().elements.call.select();
}, true);

// The moment of the key press goes along, however long the request takes; on paper the time is typed.
document.addEventListener("htmx:configRequest", (event) => {
  if (event.detail.elt.id !== "entry-form" || row().elements.date || row().elements.time.value) return;
  event.detail.parameters.time = stamp();
});

document.addEventListener("htmx:beforeRequest", (event) => {
  if (!isRow(event)) return;
  flight = { values: values(row()), at: stamp() };
  touched.clear();
  window.htmx.trigger("#look", "htmx:abort");
  say("Saving …");
  row().elements.call.select();
});

document.addEventListener("htmx:beforeSwap", (event) => {
  if (!isRow(event) || !flight) return;
  Object.assign(flight, { status: event.detail.xhr.status, focus: document.activeElement, live: typedSince() });
  touched.clear();
});

document.addEventListener("htmx:afterSettle", (event) => {
  if (event.detail.target?.id !== "entry" || !flight?.status) return;
  const { status, focus, live } = flight;
  flight = null;
  if (status !== 200) {
    const kept = laidAside(live);
    if (kept) say(kept.trim());
    return;
  }
  const next = waiting.shift();
  if (next) fill(next.typed);
  if (next?.at) {
    const time = row().elements.time;
    if (!time.value && !row().elements.date) time.value = next.at;
    row().requestSubmit();
  }
  fill(live);
  if (flight) for (const name of Object.keys(live)) touched.add(name);
  const home = focus.id && document.getElementById(focus.id);
  if (!focus.form || focus.form.id !== "entry-form") home?.focus();
  else if (Object.keys(live).length) home?.focus();
  else if (flight) row().elements.call.select();
  if (!flight && row().elements.call.value) row().elements.call.dispatchEvent(new Event("input", { bubbles: true }));
});

for (const failure of ["htmx:sendError", "htmx:timeout", "htmx:responseError"]) {
  document.addEventListener(failure, (event) => {
    if (!isRow(event) || !flight || event.detail.xhr.status === 422) return;
    const { values: lost, at } = flight;
    const kept = laidAside(typedSince());
    flight = null;
    fill(lost);
    const time = row().elements.time;
    if (!time.value && !row().elements.date) time.value = at;
    say(`Not saved yet. The row is kept: press Enter to send it again.${kept}`);
    row().elements.call.focus();
  });
}

// After anything else that was done, what had the focus is gone: the next thing typed is a call.
document.addEventListener("htmx:afterSettle", (event) => {
  const done = ["on-air", "contacts", "stints", "strays"].includes(event.detail.target?.id);
  if (done && event.detail.xhr?.status === 200 && document.activeElement === document.body) row()?.elements.call.focus();
});

// A row of a table that is being edited is not replaced by news from elsewhere.
document.addEventListener("htmx:oobBeforeSwap", (event) => {
  if (event.detail.target.querySelector("tr.chosen form")) event.detail.shouldSwap = false;
});

// --- Reports follow the stint that is chosen ----------------------------------------------------------------------

function showUsualReport() {
  const usual = document.querySelector("[data-stints]")?.selectedOptions[0]?.dataset.report;
  if (!usual || !row()) return;
  for (const name of ["rst_sent", "rst_rcvd"]) row().elements[name].placeholder = usual;
}
document.addEventListener("change", (event) => event.target.matches("[data-stints]") && showUsualReport());
document.addEventListener("htmx:oobAfterSwap", showUsualReport);

// --- The clock, by the server's time ------------------------------------------------------------------------------

// The page was made before it arrived here, so every reading of the server's clock is late: the least late one counts.
const shown = () => document.querySelector("[data-clock]");
const arrived = performance.getEntriesByType("navigation")[0]?.responseStart;
if (shown()) ahead_ms = new Date(shown().dataset.clock) - (arrived ? performance.timeOrigin + arrived : Date.now());
document.addEventListener("htmx:afterSettle", () => {
  if (shown()) ahead_ms = Math.max(ahead_ms, new Date(shown().dataset.clock) - Date.now());
});
setInterval(() => {
  if (shown()) shown().textContent = new Date(Date.now() + ahead_ms).toISOString().slice(11, 19);
}, 1000);
