// Rows of a form grow one by one where they stand; without this the button sends the form and more rows come back.

for (const group of document.querySelectorAll("[data-grow]")) {
  const prefix = group.dataset.grow;
  const total = group.querySelector(`[name="${prefix}-TOTAL_FORMS"]`);
  const most = Number(group.querySelector(`[name="${prefix}-MAX_NUM_FORMS"]`).value);
  const rows = group.querySelector("[data-grow-rows]");
  const pattern = group.querySelector("template");
  const button = group.querySelector("[name=more]");

  button.textContent = "One more row";
  button.addEventListener("click", (event) => {
    event.preventDefault();
    const count = Number(total.value);
    if (count >= most) {
      button.disabled = true;
      return;
    }
    const row = pattern.content.firstElementChild.cloneNode(true);
    row.innerHTML = row.innerHTML.replaceAll("__prefix__", count).replaceAll("__number__", count + 1);
    rows.append(row);
    total.value = count + 1;
    row.querySelector("input:not([type=hidden]), select, textarea").focus();
  });
}
