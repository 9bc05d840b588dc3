// Pictures of one outing: what was on the air when, over contacts, volts and the sun; and contacts by direction.

/* global Plot, d3 */

import {drawTraces} from "./packs.js";
import {accent, em, ink, rule, series, soft, textWidth} from "./drawing.js";

// Rows of stints, one below the other where they overlap, so that two radios at once stand apart.
function inRows(stints) {
  const ends = [];
  return stints.map((stint) => {
    const from = new Date(stint.stretches[0][0]), to = new Date(stint.stretches.at(-1)[1]);
    let row = ends.findIndex((end) => end <= from);
    if (row < 0) row = ends.push(0) - 1;
    ends[row] = to;
    return {...stint, row, from, to};
  });
}

function drawStints(data, width) {
  const size = em();
  const stints = inRows(data.stints.filter((stint) => stint.stretches.length));
  const names = [...new Set(stints.map((stint) => stint.label))];
  const rows = Math.max(1, ...stints.map((stint) => stint.row + 1));
  const domain = data.domain.map((at) => new Date(at));
  const bars = stints.flatMap((stint) => stint.stretches.map(([from, to]) => ({...stint, from: new Date(from), to: new Date(to)})));
  const x = (at) => ((at - domain[0]) / (domain[1] - domain[0])) * (width - 5.4 * size);
  const ticks = data.contacts.map((at) => new Date(at));
  return Plot.plot({
    width,
    height: (rows * 2.4 + 3.4) * size, marginLeft: 4.2 * size, marginRight: 1.2 * size, marginTop: 2.4 * size, marginBottom: 0.6 * size,
    x: {type: "utc", domain, axis: null},
    y: {axis: null, domain: [rows - 0.4, -1.1]},
    marks: [
      Plot.ruleX(ticks, {y1: -1.05, y2: -0.55, stroke: ink, strokeOpacity: 0.7}),
      Plot.text(["contacts, stints"], {frameAnchor: "top-left", dy: -1.6 * size, textAnchor: "start", fill: soft, fontSize: size}),
      Plot.rect(bars, {
        x1: "from", x2: "to", y1: (d) => d.row - 0.42, y2: (d) => d.row + 0.42, fill: (d) => series(names.indexOf(d.label) + 1),
        fillOpacity: 0.25, stroke: (d) => series(names.indexOf(d.label) + 1), strokeWidth: 1.5,
        title: (d) => `${d.label}${d.more ? `, ${d.more}` : ""}: ${d.contacts} contacts`,
      }),
      Plot.text(stints.filter((stint) => x(stint.to) - x(stint.from) > textWidth(stint.label) + 4), {
        x: (d) => new Date((+d.from + +d.to) / 2), y: "row", text: "label", fill: ink, fontSize: size,
      }),
      Plot.ruleX([domain[0]], {stroke: rule}),
    ],
  });
}

export function drawTimeline(data, width) {
  const frame = document.createElement("div");
  frame.append(drawStints(data, width), ...drawTraces(data, width).childNodes);
  return frame;
}

export function drawRose(data, width) {
  const size = em();
  const side = Math.min(width, 26 * size);
  const most = Math.max(1, ...data.rows.map((row) => row.value));
  const reach = side / 2 - 2.4 * size;
  const radius = d3.scaleSqrt([0, most], [0, reach]); // so that areas, not radii, stand for numbers
  const part = (2 * Math.PI) / data.rows.length;
  const wedge = d3.arc().innerRadius(0).outerRadius((row) => radius(row.value)).startAngle((row) => (row.i - 0.47) * part).endAngle((row) => (row.i + 0.47) * part);
  const svg = d3.create("svg").attr("viewBox", `${-side / 2} ${-side / 2} ${side} ${side}`).attr("width", side).attr("height", side);
  for (const count of d3.ticks(0, most, 3).filter((value) => value > 0 && Number.isInteger(value))) {
    svg.append("circle").attr("r", radius(count)).attr("fill", "none").attr("stroke", rule);
    svg.append("text").attr("x", 3).attr("y", -radius(count) - 2).attr("font-size", size * 0.85).attr("fill", soft).text(count);
  }
  svg.append("circle").attr("r", reach).attr("fill", "none").attr("stroke", "var(--rule-strong)");
  const rows = data.rows.map((row, i) => ({...row, i}));
  svg.selectAll("path").data(rows).join("path").attr("d", wedge).attr("fill", accent).attr("fill-opacity", 0.6).attr("stroke", accent)
    .append("title").text((row) => `${row.label}: ${row.value}`);
  svg.selectAll("text.way").data(rows).join("text").attr("class", "way").attr("text-anchor", "middle").attr("dominant-baseline", "middle")
    .attr("x", (row) => Math.sin(row.i * part) * (reach + 1.2 * size)).attr("y", (row) => -Math.cos(row.i * part) * (reach + 1.2 * size))
    .attr("font-size", size).attr("fill", ink).text((row) => row.short);
  return svg.node();
}
