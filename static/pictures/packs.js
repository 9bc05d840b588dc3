// Pictures of packs: one or more quantities over the same hours or days, each in a panel of its own.

/* global Plot */

import {accent, axis, em, ink, numeral, rule, series, soft} from "./drawing.js";

const DASHES = ["", "9 4", "3 3", "12 3 3 3"];

// A name stands over its line where that line is farthest from the others, so that no legend has to be looked up.
function places(lines) {
  return lines.filter((line) => line.label && line.points.length).map((line) => {
    const others = lines.filter((other) => other !== line && other.points.length);
    const at = (other, x) => other.points.reduce((best, point) => (Math.abs(point[0] - x) < Math.abs(best[0] - x) ? point : best))[1];
    const inner = line.points.slice(Math.floor(line.points.length * 0.08), Math.ceil(line.points.length * 0.8));
    const room = (point) => Math.min(Infinity, ...others.map((other) => Math.abs(at(other, point[0]) - point[1])));
    const step = Math.max(1, Math.floor(inner.length / 40));
    const tried = inner.filter((_, i) => i % step === 0);
    return { label: line.label, point: tried.reduce((best, point) => (room(point) > room(best) ? point : best), tried[0]) };
  });
}

function drawPanel(panel, data, width, isLast) {
  const size = em();
  const moment = (x) => (data.utc ? new Date(x) : x);
  const lines = panel.lines.map((line) => ({ ...line, points: line.points.map(([x, y]) => [moment(x), y]) }));
  const points = lines.flatMap((line, k) => line.points.map(([x, y]) => ({ x, y, k, label: line.label })));
  const few = points.length / Math.max(1, lines.length) <= 24;
  const all = [...points.map((point) => point.y), ...panel.rules.map((line) => line.y), ...(panel.from_zero ? [0] : [])];
  const pad = Math.max(1e-3, Math.abs(Math.max(...all)) * 0.01, (Math.max(...all) - Math.min(...all)) * 0.12);
  const clock = data.clock ? {tickFormat: (at) => at.toISOString().slice(11, 16)} : {};
  const stroke = (_, k) => series(k + 1);
  return Plot.plot({
    width,
    height: 13 * size, marginLeft: 4.2 * size, marginRight: 1.2 * size, marginTop: 1.8 * size, marginBottom: (isLast ? 3.4 : 1.6) * size,
    x: { type: data.utc ? "utc" : "linear", domain: data.domain?.map(moment) },
    y: { domain: [Math.min(...all) - (panel.from_zero && Math.min(...all) === 0 ? 0 : pad), Math.max(...all) + pad] },
    marks: [
      Plot.gridY({ stroke: rule, strokeOpacity: 1, ticks: 5 }),
      ...axis(size, isLast ? data.x : null, { ticks: Math.max(3, Math.floor(width / (8 * size))), ...clock }),
      Plot.axisY({ ticks: 5, label: null, tickFormat: (value) => `${+value.toFixed(3)} ${panel.unit}`, fontSize: size, fill: ink, stroke: null }),
      Plot.ruleY(panel.rules, { y: "y", stroke: accent, strokeDasharray: "6 4" }),
      Plot.text(panel.rules, { y: "y", frameAnchor: "right", dx: -6, dy: -0.7 * size, textAnchor: "end", text: "label", fill: ink, fontSize: size, stroke: "var(--paper)", strokeWidth: 4 }),
      ...lines.map((line, k) => Plot.line(line.points, { stroke: stroke(null, k), strokeWidth: 2.2, strokeDasharray: DASHES[k % DASHES.length] })),
      ...(few ? [Plot.dot(points, { x: "x", y: "y", r: 4, fill: (point) => series(point.k + 1), stroke: "var(--sheet)", title: (point) => `${point.label} ${numeral(point.y)} ${panel.unit}` })] : []),
      Plot.text(places(lines), { x: (d) => d.point[0], y: (d) => d.point[1], text: "label", dy: -0.9 * size, textAnchor: "start", fill: ink, stroke: "var(--sheet)", strokeWidth: 4, fontSize: size }),
    ],
    style: { color: soft },
  });
}

export function drawTraces(data, width) {
  const frame = document.createElement("div");
  frame.append(...data.panels.map((panel, i) => drawPanel(panel, data, width, i === data.panels.length - 1)));
  return frame;
}
