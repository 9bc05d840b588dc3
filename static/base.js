// What every page does beyond its forms and links: the CSRF token for htmx, news of failed requests, bars while it waits,
// folding menus.

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

// What takes over a second shows how far it is, and where that cannot be known for how long it has been at it: pages and
// files that are being made, parts of a page, files that are sent. The server notes how far it is under the name that a
// wait has here (outings/waiting.py), and is asked for that.
const SECOND = 1000;
const waits = new Map(); // what is waited for: "page", the request for a part of one, the request that sends a file
const bar = document.getElementById("waiting");
let clock = 0;

function newName() {
  return Array.from(crypto.getRandomValues(new Uint8Array(16)), (byte) => byte.toString(16).padStart(2, "0")).join("");
}

function waitFor(what, name = newName()) {
  waits.set(what, { name, began: performance.now(), asked: 0, arrives: false, isSent: true, note: {} });
  if (what === "page") document.cookie = `awaits=${name}; max-age=15; path=/; samesite=lax`;
  clock ||= setInterval(tick, SECOND / 4);
}

function waitedFor(what) {
  waits.delete(what);
  if (clock) tick();
}

function tick() {
  const now = performance.now();
  for (const [what, wait] of waits) {
    if (what === "page" && cookie("arrived") === wait.name) wait.arrives = true; // a file, which leaves the page where it is
    if (now - wait.began >= SECOND || wait.arrives) ask(what, wait, now);
  }
  const wait = [...waits.values()].sort((one, other) => one.began - other.began)[0];
  if (!wait) {
    clearInterval(clock);
    clock = 0;
    bar.replaceChildren();
  } else if (now - wait.began >= SECOND) {
    document.cookie = "awaits=; max-age=0; path=/; samesite=lax"; // the request is on its way by now
    draw(wait.note, Math.floor((now - wait.began) / SECOND));
  }
}

async function ask(what, wait, now) {
  if (!wait.isSent || now - wait.asked < SECOND / 2) return;
  wait.asked = Infinity; // until there is an answer
  try {
    const answer = await fetch(`${bar.dataset.progress}?of=${wait.name}`, { redirect: "error", cache: "no-store" });
    wait.note = await answer.json();
  } catch {
    wait.note = {};
  }
  wait.asked = performance.now();
  if (waits.get(what) !== wait) return;
  if (wait.note.failed) say("The file broke off and is not whole. Throw it away and save it again.");
  if (wait.note.failed || (wait.arrives && !wait.note.words)) waitedFor(what);
}

// The words alone are read out: the count beside them would be every time.
function draw({ words = "Working", said = "", share = null }, seconds) {
  if (!bar.firstChild) {
    bar.append(document.createElement("progress"), document.createElement("span"), document.createElement("span"));
    bar.lastChild.setAttribute("aria-hidden", "true");
  }
  const [progress, about, count] = bar.children;
  progress.setAttribute("aria-label", words);
  if (share === null) progress.removeAttribute("value");
  else progress.value = share;
  if (about.textContent !== `${words} …`) about.textContent = `${words} …`;
  count.textContent = said ? `${said}, ${seconds} s` : `${seconds} s`;
}

document.addEventListener("submit", (event) => {
  if (event.defaultPrevented) return;
  if (hasFile(event.target)) {
    event.preventDefault();
    sendFile(event.target, event.submitter);
  } else {
    waitFor("page");
  }
});
document.addEventListener("click", (event) => {
  const link = event.target.closest?.("a[href]");
  const elsewhere = event.ctrlKey || event.metaKey || event.shiftKey || event.altKey || link?.target || link?.hasAttribute("download");
  if (!link || event.defaultPrevented || event.button || elsewhere || link.origin !== location.origin) return;
  if (link.hash && link.pathname + link.search === location.pathname + location.search) return;
  waitFor("page");
});
addEventListener("pageshow", () => waitedFor("page")); // also of a page that was left and comes back
document.addEventListener("htmx:configRequest", (event) => {
  event.detail.headers["X-Awaits"] = newName();
});
document.addEventListener("htmx:beforeRequest", (event) => {
  waitFor(event.detail.xhr, event.detail.requestConfig?.headers["X-Awaits"]);
});
document.addEventListener("htmx:afterRequest", (event) => waitedFor(event.detail.xhr));

// A form with a file is sent from here, since only so it is known how much of it has gone out.
let sending = null; // the request that sends a file

function hasFile(form) {
  return form.enctype === "multipart/form-data" && [...form.elements].some((field) => field.files?.[0]?.size);
}

function sendFile(form, button) {
  if (sending) return;
  const request = new XMLHttpRequest();
  sending = request;
  const name = newName();
  waitFor(request, name);
  const wait = waits.get(request);
  wait.isSent = false;
  request.upload.addEventListener("progress", ({ loaded, total }) => {
    wait.isSent = loaded === total;
    const said = `${Math.round(loaded / 1e6)} of ${Math.round(total / 1e6)} MB`;
    wait.note = wait.isSent ? {} : { words: "Sending the file", share: loaded / total, said: total < 2e6 ? "" : said };
  });
  request.addEventListener("loadend", () => {
    sending = null;
    waitedFor(request);
  });
  request.addEventListener("load", () => sent(request));
  request.addEventListener("error", () => say("The file could not be sent: the server was not reached. Nothing was stored."));
  request.open("POST", form.getAttribute("action") || location.href);
  request.setRequestHeader("X-Sent-By", "script");
  request.setRequestHeader("X-Awaits", name);
  request.send(new FormData(form, button));
}

function sent(request) {
  const onwards = request.getResponseHeader("X-Go-On");
  if (onwards) {
    waitFor("page");
    location.assign(onwards);
  } else if (!showPage(request.responseText)) {
    say(`The server answered with an error (${request.status}). Nothing was stored.`);
  }
}

// The page that answers takes the place of this one, with what its head has and this one lacks; false if it is no page.
function showPage(text) {
  const page = new DOMParser().parseFromString(text, "text/html");
  const content = page.getElementById("content");
  if (!content) return false;
  const here = new Set([...document.head.querySelectorAll("script[src], meta[name]")].map((part) => part.outerHTML));
  for (const part of page.head.querySelectorAll("script[src], meta[name]")) {
    if (here.has(part.outerHTML)) continue;
    const copy = document.createElement(part.localName);
    for (const { name, value } of part.attributes) copy.setAttribute(name, value);
    copy.async = false; // in their order
    document.head.append(copy);
  }
  document.title = page.title;
  document.getElementById("content").replaceWith(content); // htmx itself would leave out the data of pictures
  scrollTo(0, 0);
  htmx.process(content);
  for (const event of ["htmx:afterSwap", "htmx:afterSettle"]) htmx.trigger(content, event, { target: content });
  return true;
}

// Menus close on Escape (focus goes back to their button) and when something outside is chosen.
const menus = () => document.querySelectorAll("details.account[open], details.main-nav[open]");
document.addEventListener("keydown", (event) => {
  if (event.key !== "Escape") return;
  waitedFor("page"); // a browser stops loading on it
  sending?.abort();
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

// A table that is too wide for its frame is scrolled there, and the keyboard has to reach that; one that fits is no stop
// on the way.
const frames = new ResizeObserver((changes) => {
  for (const frame of new Set(changes.map(({ target }) => target.closest(".table-frame")))) {
    if (!frame) continue; // of a table that htmx has exchanged
    if (frame.scrollWidth > frame.clientWidth) {
      const caption = frame.querySelector("caption, thead")?.textContent.replace(/\s+/g, " ").trim();
      for (const [name, value] of [["tabindex", 0], ["role", "region"], ["aria-label", caption]]) frame.setAttribute(name, value);
    } else {
      for (const name of ["tabindex", "role", "aria-label"]) frame.removeAttribute(name);
    }
  }
});
function watchFrames(within) {
  for (const frame of within.querySelectorAll(".table-frame:not([tabindex])")) {
    for (const part of [frame, ...frame.children]) frames.observe(part);
  }
}
watchFrames(document);
document.addEventListener("htmx:afterSettle", (event) => watchFrames(event.detail.elt.parentNode ?? document));
