// Draws the pictures beside the tables, with Observable Plot, from the JSON that the page carries.
//
//   {% include "_pictures.html" %}                     in the block "scripts": the libraries and this module
//   {{ rates|json_script:"rates-data" }}
//   <figure class="picture" data-picture="rates" data-source="rates-data">
//     <figcaption>Contacts per hour with 95 % interval; raw, not like with like.</figcaption>
//   </figure>
//
// A part of a page that htmx exchanges carries its JSON in the figure itself: data-json="{…}" in place of data-source.
//
// The figcaption is the picture's label for screen readers; a table with the same figures stands beside it. Values come
// in the units that are shown, rounded or not; "unit" is their word. Times are ISO 8601 in UTC ("2026-06-21T04:05:00Z").
// A null value, low or high is allowed and says so. Colours are the stylesheet's variables: themes and print follow.
//
// rates      {"unit": "per hour", "none": "no on-air time",
//             "rows": [{"label": "Long wire, 20 m", "value": 16.3, "low": 14.1, "high": 18.7, "n": 204,
//                       "text": "16.3 per hour (14.1 to 18.7), n 204"}]}
//            text, none optional; reference: a number, optional, draws a line there (1 for ratios, say)
// distances  {"unit": "km", "rows": [{"label": "…", "values": [310.2, 1204.0], "median": 742, "low": 610, "high": 880,
//             "n": 71, "text": "742 km (610 to 880), n 71"}]}           median, low, high, text optional; the axis is a root
// effects    {"unit": "times the reference, …", "neutral": 1, "logarithmic": true, "rows": [{"label": "…", "value": 1.7,
//             "low": 0.98, "high": 2.8, "raw": 0.8, "reference": false, "told": true, "claimed": false, "text": "…"}]}
//            an end that is null is not bounded: the bar goes on to the edge with an arrow; neutral is where two are alike
// map        {"site": {"label": "Dune Edge", "latitude_deg": 54.1, "longitude_deg": 8.3}, "unit": "km", "km_per_unit": 1,
//             "contacts": [{"label": "Q1ABC 20m, 812 km", "latitude_deg": 50.0, "longitude_deg": 14.4, "distance_km": 812,
//                           "series": 1}],                                series (1-7) optional
//             "around": [{"label": "Texas: 3 contacts approximately", "latitude_deg": 31.0, "longitude_deg": -97.7,
//                         "distance_km": 8500}],                            optional: hollow, known to an area only
//             "sun": {"latitude_deg": 21.3, "longitude_deg": -12.0}}        optional: where it stands overhead
// light      {"time_zone": "Europe/Berlin", "elevation_deg": [["2026-06-21T02:00:00Z", -8.2], …],
//             "window": ["2026-06-21T04:00:00Z", "2026-06-21T09:00:00Z"],
//             "marks": [{"at": "2026-06-21T02:51:00Z", "label": "sunrise"}]}   window, marks optional
// voltage    {"rows": [{"at": "2026-06-21T04:05:00Z", "voltage_v": 13.1, "doing": "resting"}],
//             "lines": [{"voltage_v": 10.0, "label": "lowest voltage"}]}          lines optional
// stretches  {"unit": "m", "from": 5, "to": 30, "rows": [{"label": "20m", "stretches": [[9.2, 11.4], …]}, …],
//             "clear": {"label": "clear on all", "stretches": [[11.4, 12.5]]},
//             "mark": {"value": 20.2, "label": "my wire"}}                         mark optional
// taps       {"unit": "m", "bands": [{"label": "20m", "low": 14.0, "high": 14.35}],
//             "lines": [{"label": "20m tap", "points": [[1.2, 15.9], …]}],          [whip length, MHz]
//             "whips": [{"value": 1.5, "label": "found with"}, {"value": 5.18, "label": "now"}],
//             "landings": [{"label": "20m tap", "length": 5.18, "mhz": 7.54, "low": 7.47, "high": 7.62}]}

// sweeps     {"what": "SWR", "rows": [{"label": "at the feedpoint", "series": 1, "points": [[14.0, 1.8], [14.1, null], …]}],
//             "bands": [{"label": "20m", "from": 14.0, "to": 14.35}], "lines": [1.5, 2, 3], "from": 13.5, "to": 14.8}
//            dashed (a row), lowest and highest (then the scale is logarithmic) optional; frequencies in MHz

// traces     {"x": "hours", "panels": [{"unit": "V", "from_zero": true, "rules": [{"y": 10.0, "label": "lowest voltage"}],
//             "lines": [{"label": "pack 1", "points": [[0, 13.2], [0.5, 13.1]]}]}]}    panels below each other over the same x;
//            utc (x are moments), clock (and are hours and minutes), domain (of x), from_zero optional

// timeline   as traces, and "stints": [{"label": "20m CW", "more": "long wire", "contacts": 12, "stretches": [["…", "…"]]}],
//            "contacts": ["2026-06-21T04:05:00Z"]
// rose       {"rows": [{"label": "north", "short": "N", "value": 12}]}          clockwise from north

/* global Plot, d3, topojson */

import {drawStretches, drawTaps} from "./pictures/antennas.js";
import {drawRose, drawTimeline} from "./pictures/outing.js";
import {drawTraces} from "./pictures/packs.js";
import { drawEffects } from "./pictures/evidence.js";
import { rowFrame } from "./pictures/rows.js";
import {drawSweeps} from "./pictures/sweeps.js";
import {accent, axis, em, ink, localiseAxes, numeral, rule, series, shortened, soft, textWidth} from "./pictures/drawing.js";

const KM_PER_DEGREE = 40030.2 / 360; // circumference of the mean sphere (radius 6371.0088 km): rings on the map only

function drawRates(data, width) {
  const rows = data.rows.map((row) => ({
    ...row,
    text: row.text ?? (row.value == null ? (data.none ?? "not enough data yet")
      : `${numeral(row.value)}${row.low == null ? "" : ` (${numeral(row.low)} to ${numeral(row.high)})`}${row.n == null ? "" : `, n ${row.n}`}`),
  }));
  const { size, marks, shift, layout } = rowFrame(width, rows, 2.4 * em());
  const known = rows.map((row, i) => ({ ...row, i })).filter((row) => row.value != null);
  const top = Math.max(data.reference ?? 0, ...known.map((row) => row.high ?? row.value)) || 1;
  const y = (row) => row.i;
  const whole = known.filter((row) => row.low != null && row.high != null);
  return Plot.plot({
    width,
    ...layout,
    x: { domain: [0, top * 1.03], nice: true },
    marks: [
      ...axis(size, data.unit, { ticks: Math.max(3, Math.floor(width / (8 * size))) }),
      ...(data.reference == null ? [] : [Plot.ruleX([data.reference], { stroke: soft, strokeDasharray: "4 4" })]),
      ...marks,
      Plot.link(whole, { x1: "low", x2: "high", y1: y, y2: y, dy: shift, stroke: accent, strokeWidth: 3, strokeLinecap: "round" }),
      Plot.ruleX(whole.flatMap((row) => [{ x: row.low, i: row.i }, { x: row.high, i: row.i }]), {
        x: "x", y1: (row) => row.i - 0.13, y2: (row) => row.i + 0.13, dy: shift, stroke: accent, strokeWidth: 2,
      }),
      Plot.dot(known, { x: "value", y, dy: shift, r: 6, fill: accent, stroke: "var(--sheet)", strokeWidth: 2, title: (row) => `${row.label}\n${row.text}` }),
    ],
  });
}

function drawDistances(data, width) {
  const rows = data.rows.map((row) => ({
    ...row,
    text: row.text ?? (row.median == null ? `n ${row.n ?? row.values.length}`
      : `${numeral(row.median)} ${data.unit}${row.low == null ? "" : ` (${numeral(row.low)} to ${numeral(row.high)})`}, n ${row.n ?? row.values.length}`),
  }));
  const { size, marks, shift, layout } = rowFrame(width, rows, 3.4 * em());
  // spread by the golden ratio, so that equal distances lie beside each other and every drawing is the same
  const points = rows.flatMap((row, i) => row.values.map((value, k) => ({ value, i: i + (((k * 0.618034) % 1) - 0.5) * (shift ? 0.3 : 0.55) })));
  const middle = rows.map((row, i) => ({ ...row, i })).filter((row) => row.median != null);
  const top = Math.max(1, ...points.map((point) => point.value));
  const ticks = [0, 100, 250, 500, 1000, 2500, 5000, 7500, 10000, 15000, 20000].filter((tick) => tick <= top * 1.05);
  const room = layout.marginLeft + layout.marginRight;
  const spaced = ticks.filter((tick, i) => i === 0 || i === ticks.length - 1 || width - room > ticks.length * 4.5 * size || i % 2 === 0);
  return Plot.plot({
    width,
    ...layout,
    x: { type: "sqrt", domain: [0, top * 1.05] },
    marks: [
      ...axis(size, `distance in ${data.unit}`, { ticks: ticks.length > 2 ? spaced : undefined, tickFormat: ",d" }),
      ...marks,
      Plot.dot(points, { x: "value", y: "i", dy: shift, r: 3.2, fill: "var(--series-2)", fillOpacity: 0.5 }),
      Plot.link(middle.filter((row) => row.low != null), { x1: "low", x2: "high", y1: "i", y2: "i", dy: shift, stroke: accent, strokeWidth: 4, strokeLinecap: "round" }),
      Plot.dot(middle, { x: "median", y: "i", dy: shift, r: 7, symbol: "diamond", fill: accent, stroke: "var(--sheet)", strokeWidth: 2, title: (row) => `${row.label}\n${row.text}` }),
    ],
  });
}

let landAsked = null;
function land() {
  landAsked ??= fetch(document.querySelector('meta[name="land"]').content)
    .then((answer) => answer.json())
    .then((world) => topojson.feature(world, world.objects.land));
  return landAsked;
}

function destination([longitude, latitude], bearing, degrees) {
  const rad = Math.PI / 180;
  const d = degrees * rad, b = bearing * rad, p = latitude * rad;
  const q = Math.asin(Math.sin(p) * Math.cos(d) + Math.cos(p) * Math.sin(d) * Math.cos(b));
  const l = Math.atan2(Math.sin(b) * Math.sin(d) * Math.cos(p), Math.cos(d) - Math.sin(p) * Math.sin(q));
  return [longitude + l / rad, q / rad];
}

// The dark half of the Earth, and within it where the sun is too low for twilight (18 degrees).
function night(sun) {
  if (!sun) return [];
  const below = (degrees) => d3.geoCircle().center([sun.longitude_deg + 180, -sun.latitude_deg]).radius(90 - degrees).precision(1)();
  return [0.833, 18].map((degrees) => Plot.geo(below(degrees), {fill: "var(--ink)", fillOpacity: 0.16, stroke: degrees < 1 ? soft : "none", strokeDasharray: "6 3"}));
}

async function drawMap(data, width) {
  const size = em();
  const side = Math.min(width, 46 * size);
  const centre = [data.site.longitude_deg, data.site.latitude_deg];
  const perUnit = data.km_per_unit ?? 1;
  const contacts = data.contacts.map((contact) => ({
    ...contact, position: [contact.longitude_deg, contact.latitude_deg],
    km: contact.distance_km ?? d3.geoDistance(centre, [contact.longitude_deg, contact.latitude_deg]) * 6371.0088,
  }));
  const around = (data.around ?? []).map((area) => ({ ...area, position: [area.longitude_deg, area.latitude_deg], km: area.distance_km }));
  const farthest = Math.max(300, ...[...contacts, ...around].map((contact) => contact.km));
  const reach = Math.min(179.5, (farthest / KM_PER_DEGREE) * 1.08);
  const rings = d3.ticks(0, farthest / perUnit, 4).filter((value) => value > 0);
  const circle = (degrees) => d3.geoCircle().center(centre).radius(degrees).precision(1)();
  const ringLabels = rings.map((value) => ({ value, position: destination(centre, 20, (value * perUnit) / KM_PER_DEGREE) }));
  const compass = ["N", "E", "S", "W"].map((word, i) => ({ word, position: destination(centre, i * 90, reach * 0.96) }));
  const lines = contacts.map((contact) => ({ type: "Feature", properties: contact, geometry: { type: "LineString", coordinates: [centre, contact.position] } }));
  const at = (channel) => ({ x: (d) => d.position[0], y: (d) => d.position[1], ...channel });
  const halo = { stroke: "var(--sea)", strokeWidth: 4, fill: ink, fontSize: size };
  return Plot.plot({
    width: side,
    height: side, margin: 2,
    projection: { type: "azimuthal-equidistant", rotate: [-centre[0], -centre[1]], domain: circle(reach), clip: reach, inset: 2 },
    marks: [
      Plot.geo(circle(reach * 0.9999), { fill: "var(--sea)", stroke: "var(--rule-strong)" }),
      Plot.geo(await land(), { fill: "var(--land)", stroke: "var(--rule-strong)", strokeWidth: 0.7 }),
      ...night(data.sun),
      Plot.geo(rings.map((value) => circle((value * perUnit) / KM_PER_DEGREE)), { stroke: soft, strokeDasharray: "2 4", strokeWidth: 1 }),
      Plot.geo(lines, { stroke: (line) => series(line.properties.series), strokeOpacity: Math.max(0.15, Math.min(0.7, 20 / lines.length)), strokeWidth: 1.2, fill: "none" }),
      Plot.dot(contacts, at({ r: 3.5, fill: (d) => series(d.series), stroke: "var(--sheet)", strokeWidth: 0.8, title: "label" })),
      Plot.dot(around, at({ r: 5, fill: "none", stroke: ink, strokeWidth: 1.6, title: "label" })),
      Plot.text(ringLabels, at({ text: (d) => `${numeral(d.value.toLocaleString("en"))} ${data.unit ?? "km"}`, ...halo, fontSize: size * 0.9 })),
      Plot.text(compass, at({ text: "word", ...halo, fontWeight: "bold" })),
      Plot.dot([{ position: centre }], at({ r: 6, symbol: "triangle", fill: accent, stroke: "var(--sheet)", strokeWidth: 1.5, title: () => data.site.label })),
    ],
  });
}

function lightOf(elevation) {
  if (elevation > -0.833) return "var(--light-day)"; // the disc's upper edge on the horizon, refraction included
  return elevation > -18 ? "var(--light-twilight)" : "var(--light-night)";
}

function drawLight(data, width) {
  const size = em();
  const points = data.elevation_deg.map(([at, elevation]) => ({ at: new Date(at), elevation }));
  const bands = [];
  for (let i = 0; i + 1 < points.length; i += 1) {
    const fill = lightOf((points[i].elevation + points[i + 1].elevation) / 2);
    if (bands.at(-1)?.fill === fill) bands.at(-1).x2 = points[i + 1].at;
    else bands.push({ x1: points[i].at, x2: points[i + 1].at, fill });
  }
  const marks = (data.marks ?? []).map((mark) => ({ ...mark, at: new Date(mark.at) }));
  const [from, to] = (data.window ?? []).map((at) => new Date(at));
  const low = Math.min(-20, ...points.map((point) => point.elevation));
  const high = Math.max(20, ...points.map((point) => point.elevation));
  const clock = (zone) => (at) => at.toLocaleTimeString("en-GB", { timeZone: zone, hour: "2-digit", minute: "2-digit" });
  const ticks = Math.max(3, Math.floor(width / (7 * size)));
  // words beside each other would run together: each goes one line further down than the last one that it would touch
  const lines = [];
  for (const mark of marks.sort((a, b) => a.at - b.at)) {
    const x = ((mark.at - points[0].at) / (points.at(-1).at - points[0].at)) * (width - 5.5 * size);
    mark.line = lines.findIndex((end) => end < x);
    if (mark.line < 0) mark.line = lines.push(0) - 1;
    lines[mark.line] = x + textWidth(mark.label) + 10;
  }
  return Plot.plot({
    width,
    height: 20 * size + lines.length * 1.3 * size, marginLeft: 3.5 * size, marginRight: 2 * size, marginTop: (2.2 + lines.length * 1.3 + 1.4) * size, marginBottom: 3.4 * size,
    x: { type: "utc", domain: [points[0].at, points.at(-1).at] },
    y: { domain: [low, high] },
    marks: [
      Plot.rect(bands, { x1: "x1", x2: "x2", y1: low, y2: high, fill: "fill" }),
      ...(from && to ? [Plot.rect([{ from, to }], { x1: "from", x2: "to", y1: low, y2: high, fill: "none", stroke: accent, strokeWidth: 2.5 })] : []),
      Plot.ruleY([0], { stroke: "var(--rule-strong)" }),
      Plot.ruleX(marks, { x: "at", stroke: soft, strokeDasharray: "2 4" }),
      Plot.line(points, { x: "at", y: "elevation", stroke: ink, strokeWidth: 2.5 }),
      Plot.axisX({ ticks, tickFormat: clock("UTC"), label: "UTC", labelArrow: "none", labelAnchor: "center", labelOffset: 2.6 * size, fontSize: size, fill: ink, stroke: null }),
      ...(data.time_zone && data.time_zone !== "UTC" ? [Plot.axisX({ anchor: "top", ticks, tickFormat: clock(data.time_zone), label: null, fontSize: size, fill: soft, stroke: null })] : []),
      Plot.axisY({ ticks: 5, tickFormat: (value) => `${value}°`, label: null, fontSize: size, fill: ink, stroke: null }),
      ...lines.map((_, line) => Plot.text(marks.filter((mark) => mark.line === line), {
        x: "at", frameAnchor: "top", dy: -(2 + (lines.length - line) * 1.3) * size, text: "label", textAnchor: "start", fill: ink, fontSize: size,
      })),
    ],
  });
}

function drawVoltage(data, width) {
  const size = em();
  const rows = data.rows.map((row) => ({ ...row, at: new Date(row.at) }));
  const lines = data.lines ?? [];
  const all = [...rows.map((row) => row.voltage_v), ...lines.map((line) => line.voltage_v)];
  const pad = Math.max(0.2, (Math.max(...all) - Math.min(...all)) * 0.1);
  const shapes = [["resting", "circle"], ["receiving", "square"], ["transmitting", "triangle"], ["charging", "diamond"], ["unknown", "times"]];
  const shape = (doing) => (shapes.find(([word]) => word === doing) ?? shapes.at(-1))[1];
  return Plot.plot({
    width,
    height: 18 * size, marginLeft: 4 * size, marginRight: size, marginTop: 1.4 * size, marginBottom: 3.4 * size,
    x: { type: "utc" },
    y: { domain: [Math.min(...all) - pad, Math.max(...all) + pad] },
    marks: [
      Plot.gridY({ stroke: rule, strokeOpacity: 1, ticks: 5 }),
      Plot.axisX({ ticks: Math.max(2, Math.floor(width / (9 * size))), label: "UTC", labelArrow: "none", labelAnchor: "center", labelOffset: 2.6 * size, fontSize: size, fill: ink, stroke: null }),
      Plot.axisY({ ticks: 5, tickFormat: (value) => `${value.toFixed(1)} V`, label: null, fontSize: size, fill: ink, stroke: null }),
      Plot.ruleY(lines, { y: "voltage_v", stroke: accent, strokeDasharray: "6 4" }),
      Plot.text(lines, { y: "voltage_v", frameAnchor: "left", dx: 6, dy: -0.7 * size, textAnchor: "start", text: "label", fill: ink, fontSize: size }),
      Plot.line(rows, { x: "at", y: "voltage_v", stroke: soft, strokeWidth: 1.2 }),
      Plot.dot(rows, { x: "at", y: "voltage_v", r: 4.5, symbol: (row) => shape(row.doing), fill: accent, stroke: "var(--sheet)", title: (row) => `${numeral(row.voltage_v)} V, ${row.doing}` }),
    ],
    symbol: { type: "identity" },
  });
}

const pictures = {
  effects: drawEffects, rates: drawRates, distances: drawDistances, map: drawMap, light: drawLight, voltage: drawVoltage, sweeps: drawSweeps, stretches: drawStretches, taps: drawTaps,
  traces: drawTraces, timeline: drawTimeline, rose: drawRose,
};

function isEmpty(kind, data) {
  if (kind === "map" || kind === "taps") return false;
  return !(kind === "light" ? data.elevation_deg : kind === "traces" || kind === "timeline" ? data.panels : data.rows)?.length;
}

async function draw(figure) {
  const kind = figure.dataset.picture;
  const data = JSON.parse(figure.dataset.json ?? document.getElementById(figure.dataset.source).textContent);
  let canvas = figure.querySelector(":scope > .canvas");
  if (!canvas) {
    canvas = document.createElement("div");
    canvas.className = "canvas";
    canvas.setAttribute("role", "img");
    canvas.setAttribute("aria-label", figure.querySelector("figcaption")?.textContent.trim() ?? kind);
    figure.prepend(canvas);
  }
  const width = Math.floor(canvas.clientWidth);
  if (!width || figure.dataset.width === String(width)) return;
  figure.dataset.width = width;
  if (isEmpty(kind, data)) {
    figure.hidden = true; // the page says in words that there is nothing yet
    return;
  }
  const drawing = await pictures[kind](data, width);
  localiseAxes(drawing);
  drawing.setAttribute("aria-hidden", "true"); // the frame has the label, the table beside it the figures and the links
  canvas.replaceChildren(drawing);
}

const watcher = new ResizeObserver((entries) => entries.forEach(({ target }) => draw(target)));

function drawAll(within = document) {
  for (const figure of within.querySelectorAll("figure[data-picture]")) watcher.observe(figure);
}

document.fonts.ready.then(() => drawAll());
document.addEventListener("htmx:afterSettle", (event) => drawAll(event.detail.elt.parentNode ?? document));
