// Keys on a list: "/" goes to its search box, the arrows go through its rows, Escape goes back to the search box.

const search = document.querySelector("[data-search]");
const rows = () => [...document.querySelectorAll("[data-rows] [data-row]")];
const typesText = (element) => element.closest?.("input, select, textarea, [contenteditable]");

for (const hint of document.querySelectorAll("[data-for-keys]")) hint.hidden = false;

document.addEventListener("keydown", (event) => {
  if (event.ctrlKey || event.metaKey || event.altKey || event.isComposing) return;
  if (event.key === "/" && !typesText(event.target)) {
    event.preventDefault();
    search.focus();
    search.select();
    return;
  }
  const all = rows();
  const here = all.indexOf(document.activeElement);
  if (event.key === "ArrowDown" && (here >= 0 || event.target === search)) {
    event.preventDefault();
    all[Math.min(here + 1, all.length - 1)]?.focus();
  } else if (event.key === "ArrowUp" && here >= 0) {
    event.preventDefault();
    (all[here - 1] || search).focus();
  } else if (event.key === "Escape" && here >= 0) {
    search.focus();
  }
});
