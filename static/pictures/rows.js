// The frame of pictures with a row for each thing: the label at the left and the text at the right, or both above on a
// narrow screen.

/* global Plot */

import { em, ink, shortened, soft, textWidth } from "./drawing.js";

export function rowFrame(width, rows, rowHeight) {
  const size = em();
  const narrow = width < 40 * size;
  const labels = Math.max(0, ...rows.map((row) => textWidth(row.label)));
  const texts = Math.max(0, ...rows.map((row) => textWidth(row.text ?? "")));
  const left = narrow ? 8 : Math.min(labels + 16, width * 0.34);
  const right = narrow ? 12 : Math.min(texts + 24, width * 0.32);
  const high = narrow ? rowHeight + 3 * size : rowHeight;
  const marks = [];
  if (narrow) {
    const line = (dy, channel, extra) => Plot.text(rows, {
      frameAnchor: "left", y: (_, i) => i, text: channel, textAnchor: "start", dx: 0, dy, fontSize: size, ...extra,
    });
    const room = width - left - right;
    marks.push(line(-high / 2 + size * 0.9, (row) => shortened(row.label, room), { fill: ink, fontWeight: "bold" }));
    marks.push(line(-high / 2 + size * 2.2, (row) => shortened(row.text ?? "", room), { fill: soft }));
  } else {
    marks.push(Plot.text(rows, {
      frameAnchor: "left", y: (_, i) => i, text: (row) => shortened(row.label, left - 14), textAnchor: "end", dx: -12,
      fill: ink, fontSize: size,
    }));
    marks.push(Plot.text(rows, {
      frameAnchor: "right", y: (_, i) => i, text: (row) => shortened(row.text ?? "", right - 16), textAnchor: "start", dx: 14,
      fill: soft, fontSize: size,
    }));
  }
  return {
    size, narrow, marks, shift: narrow ? high / 2 - rowHeight / 2 : 0,
    layout: {
      height: rows.length * high + 3.6 * size, marginLeft: left, marginRight: right, marginTop: 4, marginBottom: 3.4 * size,
      y: { axis: null, domain: [rows.length - 0.5, -0.5] },
    },
  };
}
