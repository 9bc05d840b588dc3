// What all pictures are drawn with: the colours of the themes, the size of text, and the horizontal axis.

/* global Plot */

export const ink = "var(--ink)";
export const soft = "var(--ink-soft)";
export const rule = "var(--rule)";
export const accent = "var(--accent)";
export const series = (number) => `var(--series-${((number ?? 1) - 1) % 7 + 1})`;

// A number as text, decimals after the sign that the page asks for; where that is a comma, no comma parts thousands.
export function numeral(value) {
  const sign = document.documentElement.dataset.decimals;
  return sign ? String(value).replaceAll(",", "\u202f").replace(".", sign) : String(value);
}

// What Plot wrote along the axes, in the same way.
export function localiseAxes(drawing) {
  if (!document.documentElement.dataset.decimals) return;
  for (const text of drawing.querySelectorAll('[aria-label$="axis tick label"] text')) {
    if (/[0-9][.,][0-9]/u.test(text.textContent)) text.textContent = numeral(text.textContent);
  }
}

export const em = () => parseFloat(getComputedStyle(document.documentElement).fontSize) * 0.85;
const measurer = document.createElement("canvas").getContext("2d");
export function textWidth(text) {
  measurer.font = `${em()}px B612, system-ui, sans-serif`;
  return measurer.measureText(text).width;
}
export function shortened(text, width) {
  if (textWidth(text) <= width) return text;
  let end = text.length;
  while (end > 1 && textWidth(`${text.slice(0, end)}…`) > width) end -= 1;
  return `${text.slice(0, end).trimEnd()}…`;
}

export const axis = (size, label, extra = {}) => [
  Plot.gridX({ stroke: rule, strokeOpacity: 1, ...extra }),
  Plot.axisX({ label, labelArrow: "none", labelAnchor: "center", labelOffset: 2.6 * size, fontSize: size, fill: ink, stroke: null, ...extra }),
];
