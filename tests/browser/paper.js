// What is wrong with a page on paper in a theme, as a list of sentences: something to press, text or paper that is not
// black on white, a table that is cut off. To be asked while the page is shown as for printing.
(theme) => {
  document.documentElement.dataset.theme = theme;
  const found = [];
  const shown = (element) => element.checkVisibility({ visibilityProperty: true, contentVisibilityAuto: true });
  const name = (element) => `<${element.tagName.toLowerCase()} class="${element.className}"> “${element.textContent.trim().replace(/\s+/g, " ").slice(0, 40)}”`;
  const light = (colour) => {
    const [red, green, blue, alpha = 1] = colour.match(/[\d.]+/g).map(Number);
    return alpha === 0 ? null : (0.2126 * red + 0.7152 * green + 0.0722 * blue) / 255;
  };
  for (const element of document.querySelectorAll(".cover, nav, .foot, .filters, .pager, button, .button, input[type=submit]")) {
    if (shown(element) && !element.closest("ul.checks") && element.getClientRects().length) found.push(`${name(element)} is printed`);
  }
  for (const element of document.querySelectorAll("body, body *:not(svg *, option, script)")) {
    if (!shown(element)) continue;
    const style = getComputedStyle(element);
    const words = [...element.childNodes].some((node) => node.nodeType === Node.TEXT_NODE && node.data.trim());
    if (words && light(style.color) > 0.35) found.push(`${name(element)} is pale`);
    if ((light(style.backgroundColor) ?? 1) < 0.9 && !element.matches("progress, input")) found.push(`${name(element)} is not on white`);
  }
  for (const frame of document.querySelectorAll(".table-frame, pre, .scroll")) {
    if (shown(frame) && getComputedStyle(frame).overflowX !== "visible" && frame.scrollWidth > frame.clientWidth + 1) found.push(`${name(frame)} is cut off`);
  }
  return [...new Set(found)];
}
