// What is wrong with how a page is set, as a list of sentences: text that is cut off, that leaves its button or mark, or
// lies on other text; pieces to press that lie on each other; a page wider than its window. A function of no arguments.
() => {
  const found = [];
  const shown = (element) => element.checkVisibility({ visibilityProperty: true, contentVisibilityAuto: true });
  const name = (element) => {
    const words = (element.textContent ?? "").trim().replace(/\s+/g, " ").slice(0, 40);
    return `<${element.tagName.toLowerCase()}${element.className?.split ? `.${[...element.classList].join(".")}` : ""}> “${words}”`;
  };
  const heads = [...document.querySelectorAll(".stacked > thead")].filter((head) => getComputedStyle(head).clipPath !== "none");
  const hidden = (element) => element.closest(".visually-hidden, .skip, svg, [hidden], option") || heads.some((head) => head.contains(element));
  const scrollers = [...document.querySelectorAll("*")].filter((box) => ["auto", "scroll"].includes(getComputedStyle(box).overflowX)
    || ["auto", "scroll"].includes(getComputedStyle(box).overflowY));
  const seen = (rect, element) => { // what of it is not scrolled away
    let { left, right, top, bottom } = rect;
    for (const box of scrollers) {
      if (!box.contains(element)) continue;
      const edge = box.getBoundingClientRect();
      [left, right] = [Math.max(left, edge.left), Math.min(right, edge.right)];
      [top, bottom] = [Math.max(top, edge.top), Math.min(bottom, edge.bottom)];
    }
    return { left, right, top, bottom, width: right - left, height: bottom - top };
  };
  const wider = document.documentElement.scrollWidth - document.documentElement.clientWidth;
  if (wider > 0) {
    const out = [...document.body.querySelectorAll("*")].filter((element) => shown(element)
      && element.getBoundingClientRect().right > document.documentElement.clientWidth + 1 && !scrollers.some((box) => box.contains(element)));
    found.push(`the page is ${wider} px too wide: ${out.slice(-2).map(name).join(", ")}`);
  }

  const kinds = new Map(); // what the box does with what does not fit
  const kind = (box) => {
    if (!kinds.has(box)) {
      const { display, overflowX, overflowY } = getComputedStyle(box);
      const cuts = [overflowX, overflowY].some((overflow) => ["hidden", "clip"].includes(overflow));
      const piece = box.matches("button, .button, .mark, summary, th, td, .sheet, .caution, .message, .tabs a, legend, label");
      kinds.set(box, scrollers.includes(box) ? "scrolls" : display === "inline" ? "flows" : cuts ? "cuts" : piece ? "holds" : "flows");
    }
    return kinds.get(box);
  };

  const lines = [];
  const walker = document.createTreeWalker(document.body, NodeFilter.SHOW_TEXT);
  for (let text = walker.nextNode(); text; text = walker.nextNode()) {
    const parent = text.parentElement;
    if (!text.data.trim() || !parent || ["SCRIPT", "STYLE", "TEXTAREA"].includes(parent.tagName) || hidden(parent) || !shown(parent)) continue;
    const range = document.createRange();
    range.selectNodeContents(text);
    const rects = [...range.getClientRects()].filter((rect) => rect.width > 0.5 && rect.height > 0.5);
    if (!rects.length) continue;
    for (let box = parent; box && box !== document.body; box = box.parentElement) {
      if (kind(box) === "scrolls") break;
      if (kind(box) === "flows") continue;
      const edge = box.getBoundingClientRect();
      const cuts = kind(box) === "cuts";
      if (rects.some((rect) => rect.right > edge.right + 1.5 || rect.left < edge.left - 1.5
        || (cuts && (rect.bottom > edge.bottom + 2 || rect.top < edge.top - 2)))) {
        found.push(`${name(parent)} ${cuts ? "is cut off by" : "leaves"} ${name(box)}`);
        break;
      }
    }
    for (const whole of rects) {
      const rect = seen(whole, parent);
      if (rect.width > 0.5 && rect.height > 0.5) lines.push({ rect, text, parent });
    }
  }

  lines.sort((one, other) => one.rect.top - other.rect.top);
  for (let i = 0; i < lines.length; i += 1) {
    const { rect } = lines[i];
    for (let j = i + 1; j < lines.length && lines[j].rect.top < rect.bottom; j += 1) {
      const other = lines[j].rect;
      if (lines[i].text === lines[j].text) continue;
      const wide = Math.min(rect.right, other.right) - Math.max(rect.left, other.left);
      const high = Math.min(rect.bottom, other.bottom) - Math.max(rect.top, other.top);
      if (wide > 2 && high > 0.45 * Math.min(rect.height, other.height)) {
        found.push(`${name(lines[i].parent)} and ${name(lines[j].parent)} lie on each other`);
      }
    }
  }

  const pressed = [...document.querySelectorAll("a[href], button, input:not([type=hidden]), select, textarea, summary")]
    .filter((element) => shown(element) && !hidden(element));
  const boxes = pressed.flatMap((element) => [...element.getClientRects()].map((rect) => ({ element, rect: seen(rect, element) })))
    .filter(({ rect }) => rect.width > 0 && rect.height > 0)
    .sort((one, other) => one.rect.top - other.rect.top);
  for (let i = 0; i < boxes.length; i += 1) {
    for (let j = i + 1; j < boxes.length && boxes[j].rect.top < boxes[i].rect.bottom; j += 1) {
      const [one, other] = [boxes[i], boxes[j]];
      if (one.element === other.element || one.element.contains(other.element) || other.element.contains(one.element)) continue;
      const wide = Math.min(one.rect.right, other.rect.right) - Math.max(one.rect.left, other.rect.left);
      const high = Math.min(one.rect.bottom, other.rect.bottom) - Math.max(one.rect.top, other.rect.top);
      if (wide > 2 && high > 6) found.push(`${name(one.element)} and ${name(other.element)} are pressed at the same place`);
    }
  }
  return [...new Set(found)];
}
