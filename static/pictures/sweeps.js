// Sweeps: SWR, or resistance and reactance, over frequency, the bands shaded.

/* global Plot, d3 */

import {em, ink, rule, series, shortened, soft, textWidth} from "./drawing.js";

const DASHES = ["", "12 4", "4 3", "14 4 3 4", "2 3", "8 3 2 3 2 3", "20 6"]; // in red light lines differ by them alone

export function drawSweeps(data, width) {
  const size = em();
  const narrow = width < 40 * size;
  const points = data.rows.flatMap((row, i) => row.points.map(([mhz, value]) => ({ mhz, value, i })));
  const known = points.filter((point) => point.value != null).map((point) => point.value);
  const logarithmic = data.highest != null;
  const domain = logarithmic ? [data.lowest, data.highest] : d3.nice(Math.min(0, ...known), Math.max(1, ...known), 5);
  const reach = (data.to - data.from) / (width - 4 * size); // MHz a pixel, nearly
  const dash = (row) => (row.dashed ? "5 4" : DASHES[(row.series - 1) % 7]);
  const legend = data.rows.length * 1.5 * size;
  const left = (logarithmic ? 3.8 : 4.4) * size;
  const bands = data.bands.filter((band) => band.to > data.from && band.from < data.to);
  const shown = bands.filter((band, i) => { // names that would run into the one before are left to the shade
    const at = (mhz) => ((mhz - data.from) / (data.to - data.from)) * (width - left);
    const before = bands.slice(0, i).findLast((other) => other.placed);
    band.placed = at((band.from + band.to) / 2) > textWidth(band.label) / 2 && (!before || at((band.from + band.to) / 2) - at((before.from + before.to) / 2) > textWidth(band.label) + 6);
    return band.placed;
  });
  return Plot.plot({
    width,
    height: (narrow ? 18 : 22) * size + legend, marginLeft: left, marginRight: size, marginTop: 1.6 * size + legend, marginBottom: 3.4 * size,
    x: { domain: [data.from, data.to] },
    y: { type: logarithmic ? "log" : "linear", domain },
    marks: [
      Plot.rect(bands, { x1: "from", x2: "to", fill: "var(--light-day)" }),
      Plot.gridY({ stroke: rule, strokeOpacity: 1, ticks: logarithmic ? [1, 2, 3, 5, 10] : 5 }),
      Plot.ruleY(data.lines ?? [], { stroke: soft, strokeDasharray: "1 4", strokeWidth: 1.5 }),
      Plot.text(shown, { x: (band) => (band.from + band.to) / 2, frameAnchor: "top", dy: -0.8 * size, text: "label", fill: ink, fontSize: size }),
      Plot.axisX({ ticks: Math.max(3, Math.floor(width / (8 * size))), label: "MHz", labelArrow: "none", labelAnchor: "center", labelOffset: 2.6 * size, fontSize: size, fill: ink, stroke: null }),
      Plot.axisY(logarithmic ? [1, 1.5, 2, 3, 5, 10] : undefined, { ticks: 5, tickFormat: (value) => String(value), label: data.what, labelArrow: "none", labelAnchor: "center", fontSize: size, fill: ink, stroke: null }),
      ...data.rows.map((row, i) => Plot.line(points.filter((point) => point.i === i), {
        x: "mhz", y: "value", stroke: series(row.series), strokeWidth: 2.4, strokeDasharray: dash(row), clip: true,
      })),
      ...data.rows.flatMap((row, i) => {
        const dy = -legend - 1.2 * size + (i + 0.5) * 1.5 * size;
        return [
          Plot.link([row], {
            x1: () => data.from, x2: () => data.from + reach * 3 * size, y1: () => domain[1], y2: () => domain[1], dy, stroke: series(row.series), strokeWidth: 2.4, strokeDasharray: dash(row),
          }),
          Plot.text([row], { frameAnchor: "top-left", dx: 3.6 * size, dy, lineAnchor: "middle", text: (one) => shortened(one.label, width - left - 5 * size), textAnchor: "start", fill: ink, fontSize: size }),
        ];
      }),
    ],
  });
}
