// Counts down to the switch of a fair test, and says so when it is due.

const line = document.querySelector("[data-switch-at]");
const due = line?.dataset.switchAt ? Date.parse(line.dataset.switchAt) : NaN;
const mark = document.querySelector("#fair-test header .mark");
const title = document.title;

function tell() {
  const left = Math.round((due - Date.now()) / 1000);
  if (left > 0) {
    document.title = `${Math.floor(left / 60)}:${String(left % 60).padStart(2, "0")} · ${title}`;
    return;
  }
  clearInterval(ticking);
  document.title = `Switch now · ${title}`;
  mark.className = "mark warn";
  mark.textContent = "switch now";
  line.append(" Its time is over: switch now.");
}

const ticking = Number.isNaN(due) ? 0 : setInterval(tell, 1000);
if (ticking) tell();
