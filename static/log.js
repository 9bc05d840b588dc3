// The log page: keys of the row that contacts are typed into, nothing lost while a request is on its way, the UTC clock.

const row = () => document.getElementById("entry-form");
const fieldsOf = (form) => [...form.elements].filter((e) => e.matches("input:not([type=hidden]), select") && e.offsetParent);
const say = (text) => {
  const state = document.getElementById("entry-state");
  if (state) state.textContent = text;
};

// --- Keys ---------------------------------------------------------------------------------------------------------

const BLANKS_ALLOWED = ["name", "comment", "their_programme", "exchange_rcvd", "tuning", "mode_typed"];

document.addEventListener("keydown", (event) => {
  const field = event.target;
  if (event.ctrlKey || event.altKey || event.metaKey || !row()) return;
  if (event.key === "Escape" && row().contains(field)) {
    row().elements.call.select();
    return;
  }
  if (event.key !== " " || field.form !== row() || field.tagName !== "INPUT" || BLANKS_ALLOWED.includes(field.name)) return;
  event.preventDefault();
  const fields = fieldsOf(row());
  const next = fields[fields.indexOf(field) + (event.shiftKey ? -1 : 1)];
  next?.focus();
  next?.select?.();
});

// --- What is typed while the contact before is still on its way --------------------------------------------------

let sent = null; // what stood in the row when it was sent, and what has happened since

const values = (form) => Object.fromEntries(fieldsOf(form).map((field) => [field.name, field.value]));
const isRow = (event) => event.detail.elt === row();

document.addEventListener("htmx:beforeRequest", (event) => {
  if (!isRow(event)) return;
  if (sent) { // Enter again before the answer: the row goes off as soon as it is here
    sent.again = true;
    event.preventDefault();
    return;
  }
  const now = new Date(Date.now() + ahead_ms).toISOString();
  sent = { values: values(row()), at: now.slice(11, 19).replaceAll(":", ""), again: false, focus: null };
  window.htmx.trigger("#look", "htmx:abort");
  say("Saving …");
});

document.addEventListener("htmx:beforeSwap", (event) => {
  if (!isRow(event) || !sent) return;
  sent.status = event.detail.xhr.status;
  const typed = values(row());
  sent.since = Object.entries(typed).filter(([name, value]) => value !== sent.values[name]);
  sent.focus = document.activeElement?.form === row() ? document.activeElement.name : null;
});

document.addEventListener("htmx:afterSettle", (event) => {
  if (event.detail.target?.id !== "entry" || !sent?.since) return;
  const { since, again, focus, status } = sent;
  sent = null;
  if (!since.length) return;
  for (const [name, value] of since) if (row().elements[name]) row().elements[name].value = value;
  row().elements[focus]?.focus();
  if (again && status === 200) row().requestSubmit();
  else row().elements.call.dispatchEvent(new Event("input", { bubbles: true }));
});

// A failed request leaves the row as it is; the time becomes that of the key press, so that sending again keeps it.
for (const failure of ["htmx:sendError", "htmx:timeout", "htmx:responseError"]) {
  document.addEventListener(failure, (event) => {
    if (!isRow(event) || !sent) return;
    const time = row().elements.time;
    if (!time.value && !row().elements.date) time.value = sent.at;
    sent = null;
    say("Not saved yet. The row is kept: press Enter to send it again.");
  });
}
document.addEventListener("htmx:sendAbort", (event) => {
  if (isRow(event)) sent = null;
});

// Once something is on the air, the next thing typed is a call.
document.addEventListener("htmx:afterSettle", (event) => {
  if (event.detail.target?.id === "on-air" && event.detail.xhr?.status === 200) row()?.elements.call.focus();
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

let ahead_ms = 0;
const shown = () => document.querySelector("[data-clock]");
if (shown()) ahead_ms = new Date(shown().dataset.clock) - Date.now();
setInterval(() => {
  if (shown()) shown().textContent = new Date(Date.now() + ahead_ms).toISOString().slice(11, 19);
}, 1000);
