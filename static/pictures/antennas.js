// Pictures of antennas: stretches of wire that stay clear of half-waves, and where coil taps resonate with other whips.

/* global Plot */

import {accent, axis, em, ink, numeral, rule, series, soft} from "./drawing.js";

const ticksFor = (width, size) => Math.max(3, Math.floor(width / (6 * size)));

export function drawStretches(data, width) {
  const size = em();
  const rows = [...data.rows.map((row) => ({...row, fill: "var(--rule-strong)"})), {...data.clear, fill: accent}];
  const left = 5 * size;
  const bars = rows.flatMap((row, i) => row.stretches.map(([x1, x2]) => ({x1, x2, i, fill: row.fill, title: `${row.label}: ${numeral(x1)} to ${numeral(x2)} ${data.unit}`})));
  const high = 1.8 * size;
  return Plot.plot({
    width,
    height: rows.length * high + 5.6 * size, marginLeft: left, marginRight: size, marginTop: 1.8 * size, marginBottom: 3.4 * size,
    x: {domain: [data.from, data.to]},
    y: {axis: null, domain: [rows.length - 0.5, -0.5]},
    marks: [
      ...axis(size, `length of wire in ${data.unit}`, {ticks: ticksFor(width, size)}),
      Plot.ruleY(rows.map((_, i) => i), {stroke: rule}),
      Plot.rect(bars, {x1: "x1", x2: "x2", y1: (bar) => bar.i - 0.3, y2: (bar) => bar.i + 0.3, fill: "fill", title: "title"}),
      Plot.text(rows, {
        frameAnchor: "left", y: (_, i) => i, text: "label", textAnchor: "end", dx: -8, fill: ink, fontSize: size,
        fontWeight: (row) => (row.fill === accent ? "bold" : "normal"),
      }),
      ...(data.mark ? [
        Plot.ruleX([data.mark.value], {stroke: ink, strokeWidth: 2, strokeDasharray: "6 4"}),
        Plot.text([data.mark], {x: "value", frameAnchor: "top", dy: -1.2 * size, text: "label", fill: ink, fontSize: size}),
      ] : []),
    ],
    fill: {type: "identity"},
  });
}

export function drawTaps(data, width) {
  const size = em();
  const points = data.lines.flatMap((line, k) => line.points.map(([length, mhz]) => ({length, mhz, label: line.label, k})));
  const ends = data.lines.map((line, k) => ({length: line.points[0][0], mhz: line.points[0][1], label: line.label, k}));
  const lengths = points.map((point) => point.length);
  const all = [...points.map((point) => point.mhz), ...data.bands.flatMap((band) => [band.low, band.high])];
  const ticks = [1, 2, 3, 5, 7, 10, 14, 20, 30, 50, 70, 100, 150].filter((tick) => tick >= Math.min(...all) * 0.95 && tick <= Math.max(...all) * 1.05);
  const stroke = (row) => series(row.k + 1);
  return Plot.plot({
    width,
    height: 26 * size, marginLeft: 3.6 * size, marginRight: 4 * size, marginTop: 3 * size, marginBottom: 3.4 * size,
    x: {domain: [Math.min(...lengths), Math.max(...lengths)]},
    y: {type: "log", domain: [Math.min(...all) * 0.95, Math.max(...all) * 1.05]},
    marks: [
      Plot.rect(data.bands, {
        x1: Math.min(...lengths), x2: Math.max(...lengths), y1: (band) => band.low * 0.997, y2: (band) => band.high * 1.003,
        fill: accent, fillOpacity: 0.22, title: (band) => `${band.label}: ${numeral(band.low)} to ${numeral(band.high)} MHz`,
      }),
      Plot.text(data.bands, {frameAnchor: "right", y: (band) => Math.sqrt(band.low * band.high), text: "label", textAnchor: "start", dx: 8, fill: ink, fontSize: size}),
      ...axis(size, `length of whip in ${data.unit}`, {ticks: ticksFor(width, size)}),
      Plot.axisY(ticks, {tickFormat: (value) => `${value}`, label: "MHz", labelArrow: "none", labelAnchor: "top", labelOffset: 3 * size, fontSize: size, fill: ink, stroke: null}),
      ...[false, true].map((dashed) => Plot.line(points.filter((point) => Boolean(data.lines[point.k].dashed) === dashed), {
        x: "length", y: "mhz", z: "k", stroke: dashed ? () => ink : stroke, strokeWidth: 2, strokeDasharray: dashed ? "6 5" : undefined,
      })),
      Plot.text(ends, {x: "length", y: "mhz", text: "label", textAnchor: "start", dx: 4, dy: 0.7 * size, fill: ink, stroke: "var(--sheet)", strokeWidth: 4, fontSize: size * 0.95}),
      Plot.ruleX(data.whips, {x: "value", stroke: soft, strokeDasharray: "2 4", strokeWidth: 1.5}),
      Plot.text(data.whips, {x: "value", frameAnchor: "top", dy: -0.9 * size, text: "label", fill: ink, fontSize: size}),
      Plot.link(data.landings, {x1: "length", x2: "length", y1: "low", y2: "high", stroke: accent, strokeWidth: 4}),
      Plot.dot(data.landings, {x: "length", y: "mhz", r: 5, fill: accent, stroke: "var(--sheet)", strokeWidth: 1.5, title: (row) => `${row.label}: ${numeral(row.mhz)} MHz`}),
    ],
    stroke: {type: "identity"},
  });
}
