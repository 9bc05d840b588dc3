// Ticking contacts in the list: all of the page at once, a stretch with Shift, up and down with the arrow keys.

const LIST = "form[data-choosing]";

function boxes(list) {
  return [...list.querySelectorAll('input[name="chosen"]')];
}

function told(list) {
  const ticked = boxes(list).filter((box) => box.checked).length;
  const all = list.querySelector("[data-all]");
  all.checked = ticked === boxes(list).length;
  all.indeterminate = ticked > 0 && !all.checked;
  list.querySelector("[data-ticked]").textContent = ticked ? `${ticked} ticked` : "";
}

function prepared(list) {
  if (list.querySelector("[data-all]")) return;
  const all = document.createElement("label");
  all.className = "tick";
  all.innerHTML = '<input type="checkbox" data-all><span>Tick the page</span>';
  const count = document.createElement("span");
  count.dataset.ticked = "";
  count.setAttribute("role", "status");
  list.querySelector(".toolbar").prepend(all, count);
  told(list);
}

let last = null;

document.addEventListener("click", (event) => {
  const list = event.target.closest(LIST);
  if (!list) return;
  if (event.target.matches("[data-all]")) {
    for (const box of boxes(list)) box.checked = event.target.checked;
  } else if (event.target.matches('input[name="chosen"]')) {
    const all = boxes(list);
    const [from, to] = [all.indexOf(last), all.indexOf(event.target)].sort((a, b) => a - b);
    if (event.shiftKey && from >= 0) {
      for (const box of all.slice(from, to + 1)) box.checked = event.target.checked;
    }
    last = event.target;
  } else {
    return;
  }
  told(list);
});

document.addEventListener("keydown", (event) => {
  const step = { ArrowDown: 1, ArrowUp: -1 }[event.key];
  if (!step || !event.target.matches?.('input[name="chosen"]')) return;
  const all = boxes(event.target.closest(LIST));
  const next = all[all.indexOf(event.target) + step];
  if (!next) return;
  event.preventDefault();
  next.focus();
  if (event.shiftKey) {
    next.checked = event.target.checked;
    told(next.closest(LIST));
  }
});

function prepareAll() {
  document.querySelectorAll(LIST).forEach(prepared);
}

prepareAll();
document.addEventListener("htmx:afterSettle", prepareAll);
