// The picture `effects`: adjusted figures against a reference as dots with intervals, the raw ones hollow beside them.

/* global Plot */

import { accent, axis, em, ink, rule, soft } from "./drawing.js";
import { rowFrame } from "./rows.js";

const TICKS = [0.01, 0.02, 0.05, 0.1, 0.2, 0.5, 1, 2, 5, 10, 20, 50, 100];

// From the least to the most that is drawn, with some room; an interval hundred times as wide as the rest is cut.
function span(data, rows) {
  const { neutral, logarithmic } = data;
  const inner = rows.flatMap((row) => [row.value, row.raw]).filter((value) => value != null && (!logarithmic || value > 0));
  const ends = rows.flatMap((row) => [row.low, row.high]).filter((value) => value != null && (!logarithmic || value > 0));
  if (!logarithmic) {
    const all = [neutral, ...inner, ...ends];
    const pad = (Math.max(...all) - Math.min(...all) || 1) * 0.08;
    return [Math.min(...all) - pad, Math.max(...all) + pad];
  }
  const least = Math.min(neutral, ...inner), most = Math.max(neutral, ...inner);
  const low = Math.max(Math.min(least, ...ends), least / 8);
  const high = Math.min(Math.max(most, ...ends), most * 8);
  return [Math.min(low, neutral / 1.6) / 1.1, Math.max(high, neutral * 1.6) * 1.1];
}

export function drawEffects(data, width) {
  const { size, marks, shift, layout } = rowFrame(width, data.rows, 2.6 * em());
  const [left, right] = span(data, data.rows);
  const held = (value) => Math.min(right, Math.max(left, value));
  const rows = data.rows.map((row, i) => ({ ...row, i })).filter((row) => row.told && !row.reference);
  const bars = rows.map((row) => ({ ...row, from: held(row.low ?? left), to: held(row.high ?? right) }));
  const cut = bars.flatMap((row) => [
    ...(row.low == null || row.low < left ? [{ x: left, i: row.i, rotate: 270 }] : []),
    ...(row.high == null || row.high > right ? [{ x: right, i: row.i, rotate: 90 }] : []),
  ]);
  const ends = bars.flatMap((row) => [
    ...(row.low != null && row.low >= left ? [{ x: row.low, i: row.i }] : []),
    ...(row.high != null && row.high <= right ? [{ x: row.high, i: row.i }] : []),
  ]);
  const dots = rows.filter((row) => row.value != null && row.value >= left && row.value <= right);
  const raw = data.rows.map((row, i) => ({ ...row, i })).filter((row) => !row.reference && row.raw != null && row.raw >= left && row.raw <= right);
  const reference = data.rows.map((row, i) => ({ ...row, i })).filter((row) => row.reference);
  const ticks = data.logarithmic ? TICKS.filter((tick) => tick >= left && tick <= right) : Math.max(3, Math.floor(width / (8 * size)));
  return Plot.plot({
    width,
    ...layout,
    x: { type: data.logarithmic ? "log" : "linear", domain: [left, right] },
    symbol: { type: "identity" },
    marks: [
      ...axis(size, data.unit, { ticks, tickFormat: data.logarithmic ? (value) => `× ${value}` : (value) => (value > 0 ? `+${value}` : `${value}`).replace("-", "−") }),
      Plot.ruleX([data.neutral], { stroke: soft, strokeWidth: 1.5, strokeDasharray: "5 4" }),
      ...marks,
      Plot.link(bars, { x1: "from", x2: "to", y1: "i", y2: "i", dy: shift, stroke: accent, strokeWidth: 3 }),
      Plot.ruleX(ends, { x: "x", y1: (end) => end.i - 0.13, y2: (end) => end.i + 0.13, dy: shift, stroke: accent, strokeWidth: 2 }),
      Plot.dot(cut, { x: "x", y: "i", dy: shift, r: 6, symbol: "triangle", rotate: "rotate", fill: accent }),
      Plot.dot(raw, { x: "raw", y: "i", dy: shift, r: 5, fill: "var(--sheet)", stroke: ink, strokeWidth: 1.5, title: (row) => `${row.label}\nraw` }),
      Plot.dot(dots, { x: "value", y: "i", dy: shift, r: 6.5, fill: accent, stroke: "var(--sheet)", strokeWidth: 2, title: (row) => `${row.label}\n${row.text}` }),
      Plot.dot(reference, { x: () => data.neutral, y: "i", dy: shift, r: 6.5, symbol: "diamond", fill: soft, stroke: "var(--sheet)", strokeWidth: 2 }),
      Plot.ruleY(data.rows.slice(1), { y: (_, i) => i + 0.5, stroke: rule, strokeOpacity: 0.6 }),
    ],
  });
}
