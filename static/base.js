// What every page does beyond its forms and links: the CSRF token for htmx, news of failed requests, folding menus.

function cookie(name) {
  const found = document.cookie.split("; ").find((part) => part.startsWith(`${name}=`));
  return found ? decodeURIComponent(found.slice(name.length + 1)) : "";
}

// Read when it is sent, not when the page was made: logging in elsewhere changes the token.
document.addEventListener("htmx:configRequest", (event) => {
  const token = cookie("csrftoken") || document.querySelector("[name=csrfmiddlewaretoken]")?.value || "";
  if (event.detail.verb !== "get") event.detail.headers["X-CSRFToken"] = token;
});

function say(text, kind = "error") {
  const line = document.createElement("li");
  line.className = `message ${kind}`;
  line.textContent = text;
  document.getElementById("messages")?.replaceChildren(line);
}

document.addEventListener("htmx:sendError", () => {
  say("The server could not be reached. Nothing was changed; what you typed is still here.");
});
document.addEventListener("htmx:timeout", () => say("The server took too long. Please try again."));
document.addEventListener("htmx:responseError", (event) => {
  const status = event.detail.xhr.status;
  if (status === 403) say("Not allowed, or the page is too old. Load the page again.");
  else if (status === 404) say("That is no longer there. Load the page again.");
  else say(`${reasonIn(event.detail.xhr) ?? `The server answered with an error (${status}).`} What you typed is still here.`);
});

// A disk that is full or a database that is locked is told of by a page of its own (stationlog/views/trouble.py).
function reasonIn(answer) {
  if (answer.status !== 503 && answer.status !== 507) return null;
  return new DOMParser().parseFromString(answer.responseText, "text/html").getElementById("reason")?.textContent;
}

// What takes over a second says so, and for how long it has: pages and files that are being made, parts of a page.
const SECOND = 1000;
const waits = new Map(); // what is waited for, and since when
let clock = 0;

function tick() {
  const now = performance.now();
  // A file that arrives leaves the page where it is; its answer brings a cookie along.
  for (const [what, { arrived }] of waits) if (what === "page" && cookie("arrived") !== arrived) waits.delete(what);
  const since = Math.min(...[...waits.values()].map(({ began }) => began));
  const seconds = Math.floor((now - since) / SECOND);
  const bar = document.getElementById("waiting");
  if (!waits.size) {
    clearInterval(clock);
    clock = 0;
    bar.replaceChildren();
  } else if (seconds >= 1) {
    if (!bar.firstChild) {
      const progress = document.createElement("progress");
      progress.setAttribute("aria-label", "Working");
      const words = document.createElement("span");
      words.textContent = "Working …";
      const count = document.createElement("span");
      count.setAttribute("aria-hidden", "true"); // it would be read out every second
      bar.append(progress, words, count);
    }
    bar.lastChild.textContent = `${seconds} s`;
  }
}

function waitFor(what) {
  waits.set(what, { began: performance.now(), arrived: cookie("arrived") });
  clock ||= setInterval(tick, SECOND / 4);
}

function waitedFor(what) {
  waits.delete(what);
  if (clock) tick();
}

document.addEventListener("submit", (event) => {
  if (!event.defaultPrevented) waitFor("page");
});
document.addEventListener("click", (event) => {
  const link = event.target.closest?.("a[href]");
  const elsewhere = event.ctrlKey || event.metaKey || event.shiftKey || event.altKey || link?.target || link?.hasAttribute("download");
  if (!link || event.defaultPrevented || event.button || elsewhere || link.origin !== location.origin) return;
  if (link.hash && link.pathname + link.search === location.pathname + location.search) return;
  waitFor("page");
});
addEventListener("pageshow", () => waitedFor("page")); // also of a page that was left and comes back
document.addEventListener("htmx:beforeRequest", (event) => waitFor(event.detail.xhr));
document.addEventListener("htmx:afterRequest", (event) => waitedFor(event.detail.xhr));

// Menus close on Escape (focus goes back to their button) and when something outside is chosen.
const menus = () => document.querySelectorAll("details.account[open], details.main-nav[open]");
document.addEventListener("keydown", (event) => {
  if (event.key !== "Escape") return;
  waitedFor("page"); // a browser stops loading on it
  for (const menu of menus()) {
    menu.open = false;
    if (menu.contains(document.activeElement)) menu.querySelector("summary").focus();
  }
});
document.addEventListener("click", (event) => {
  for (const menu of menus()) if (!menu.contains(event.target)) menu.open = false;
});

// A refused form begins with a summary of what is wrong: a screen reader and the keyboard start there.
function toSummary(within) {
  within.querySelector?.(".error-summary")?.focus();
}
toSummary(document);
document.addEventListener("htmx:afterSwap", (event) => toSummary(event.detail.target));
