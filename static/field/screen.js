// The pieces of the screen that every part uses: elements, the line that says what was kept, warnings, the sheet.

export const at = (id) => document.getElementById(id);
export const show = (node, visible) => { node.hidden = !visible; };
const standing = new Map();

export function made(tag, properties = {}, ...children) {
  const node = Object.assign(document.createElement(tag), properties);
  node.append(...children);
  return node;
}

export function button(text, work, properties = {}) {
  const node = made("button", {type: "button", textContent: text, ...properties});
  node.addEventListener("click", work);
  return node;
}

// What became of the last act; it stays until the next one.
export function say(words, state = "") {
  at("did").textContent = words ? `${words}. ` : "";
  at("did").className = state;
}

// A warning that stands until it is over, with a link if need be; empty words take it away.
export function stand(name, words, link = []) {
  if (words) standing.set(name, [words, link]);
  else standing.delete(name);
  at("standing").replaceChildren(...[...standing.values()].map(([text, [href, called]]) => made("p", {}, text,
    ...(href ? [" ", made("a", {href, textContent: called})] : []))));
}

export function field(label, name, value, options = {}) {
  return made("label", {}, `${label} `, made("input", {name, value: value ?? "", ...options}));
}

export function choice(label, name, value, options) {
  const select = made("select", {name});
  for (const [key, text] of options) select.append(made("option", {value: key, textContent: text, selected: String(key) === String(value ?? "")}));
  return made("label", {}, `${label} `, select);
}

// Put children into a node, unless it shows the same already: what is being pressed or has the focus then stays.
export function fill(node, children) {
  const asMade = [...node.querySelectorAll("input")].every((one) => one.checked === one.defaultChecked);
  const same = children.length === node.children.length && children.every((one, index) => one.isEqualNode(node.children[index]));
  if (!same || !asMade) node.replaceChildren(...children);
}

// Empty fields at once, since the next may be typed before this is kept; what is returned brings back what they held.
export function emptied(fields) {
  const typed = fields.map((one) => [one, one.value]);
  for (const one of fields) one.value = "";
  return () => { if (fields.every((one) => !one.value)) for (const [one, value] of typed) one.value = value; };
}

// Ask in a sheet from below; resolves with the form's values, null when cancelled. `check(values)` gives words against.
// A button of `extra` ends it too, its value as `chosen`.
export function ask(title, body, {ok = "OK", check = () => "", extra = []} = {}) {
  const sheet = at("sheet");
  at("sheet-title").textContent = title;
  const wrong = made("p", {className: "told bad", role: "alert", hidden: true});
  at("sheet-body").replaceChildren(wrong, ...body);
  at("sheet-ok").textContent = ok;
  at("sheet-ok").hidden = !ok;
  return new Promise((resolve) => {
    const form = sheet.querySelector("form");
    const done = (result) => {
      form.removeEventListener("submit", submitted);
      sheet.removeEventListener("cancel", cancelled);
      sheet.close();
      resolve(result);
    };
    const cancelled = () => done(null);
    const submitted = (event) => {
      event.preventDefault();
      if (event.submitter?.value === "cancel") { done(null); return; }
      const values = Object.fromEntries(new FormData(form));
      const words = check(values);
      if (words) { wrong.textContent = words; wrong.hidden = false; wrong.scrollIntoView(); return; }
      done(values);
    };
    for (const one of extra) one.addEventListener("click", () => done({chosen: one.value}));
    form.addEventListener("submit", submitted);
    sheet.addEventListener("cancel", cancelled);
    sheet.showModal();
    sheet.scrollTop = 0;
  });
}

// The same work, begun only when the one before is kept: a thumb is quicker than the store.
export function inTurn(work) {
  let before = Promise.resolve();
  return () => { before = before.then(work, work); };
}
