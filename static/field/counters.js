// The numbers of the day: contacts against the goal, pace, on-air time, light, window and the change of the UTC day.

import * as days from "./day.js";
import {at, made} from "./screen.js";
import {state} from "./state.js";
import {span, utc} from "./words.js";

const SOON = 2 * 3_600_000; // before the UTC day changes, the page says what that means
const LIGHT = 24 * 3_600_000; // sunset is counted down to within a day

export function draw() {
  const {board, day} = state;
  const now = Date.now();
  const count = days.counters(day, now);
  const light = days.nextLight(board, now);
  const until = (moment) => (moment && moment - now < LIGHT ? span(moment - now) : null);
  const dusk = until(light.dusk);
  const rise = until(light.sunrise);
  const cells = [
    ["contacts", count.goal ? `${count.contacts} of ${count.goal}` : String(count.contacts), count.pending ? `${count.pending} doubtful` : ""],
    ["past hour", String(count.pastHour), count.hourIsWhole ? "" : "not a full hour yet"],
    ["newest ten", count.newestTenMinutes === null ? "–" : `${Math.round(count.newestTenMinutes)} min`, ""],
    ["on the air", span(count.onAirSeconds * 1000), ""],
    ["sunset in", until(light.sunset) ?? "–", dusk ? `dusk in ${dusk}` : rise ? `sunrise in ${rise}` : ""],
    ["window ends", day.outing.window_end ? span(Date.parse(day.outing.window_end) - now) : "open", ""],
  ];
  const change = days.utcDayChange(now) - now;
  const today = utc(new Date(now)).slice(0, 10);
  const perDay = count.days.map(([name, number]) => `${name.slice(5)}: ${number}`).join(", ");
  cells.push(["UTC day", `changes in ${span(change)}`,
    `${change < SOON ? `From then on a station worked before counts anew, and so does the day (${today} ends). ` : ""}${perDay ? `Contacts by UTC day: ${perDay}` : ""}`, true]);
  at("counters").replaceChildren(...cells.map(([name, value, small, wide]) => {
    const dd = made("dd", {textContent: value});
    if (small) dd.append(made("small", {textContent: small}));
    return made("div", {className: wide ? "wide" : ""}, made("dt", {textContent: name}), dd);
  }));
}
