"use strict";
// Sorts and filters tables. Everything stands in the page without it; nothing leaves the page.
const order = new Intl.Collator("en", { numeric: true });

function value(row, column) {
  const cell = row.cells[column];
  return "rank" in cell.dataset ? Number(cell.dataset.rank) : cell.textContent;
}

function compare(one, other) {
  if (typeof one === "number" && typeof other === "number") return one - other;
  // What has no number stands behind what has one.
  if (typeof one !== typeof other) return typeof one === "number" ? -1 : 1;
  return order.compare(one, other);
}

function sortBy(table, column) {
  const head = table.tHead.rows[0].cells[column];
  const down = head.getAttribute("aria-sort") === "ascending";
  for (const other of table.tHead.rows[0].cells) other.removeAttribute("aria-sort");
  head.setAttribute("aria-sort", down ? "descending" : "ascending");
  const rows = [...table.tBodies[0].rows];
  rows.sort((one, other) => (down ? -1 : 1) * compare(value(one, column), value(other, column)));
  table.tBodies[0].append(...rows);
}

function makeSortable(table) {
  [...table.tHead.rows[0].cells].forEach((head, column) => {
    const button = document.createElement("button");
    button.type = "button";
    button.textContent = head.textContent;
    button.addEventListener("click", () => sortBy(table, column));
    head.replaceChildren(button);
  });
}

function labelled(words, field) {
  const label = document.createElement("label");
  label.append(words, field);
  return label;
}

function makeFilter(table) {
  const heads = [...table.tHead.rows[0].cells].map((head) => head.textContent);
  const column = heads.indexOf(table.dataset.filterBy);
  const rows = [...table.tBodies[0].rows];
  const words = document.createElement("input");
  words.type = "search";
  const choice = document.createElement("select");
  choice.add(new Option("all", ""));
  for (const known of new Set(rows.map((row) => row.cells[column].textContent))) choice.add(new Option(known, known));
  const told = document.createElement("p");
  told.setAttribute("role", "status");
  const panel = document.createElement("div");
  panel.className = "filter idle";

  function apply() {
    const wanted = words.value.trim().toLowerCase();
    let shown = 0;
    for (const row of rows) {
      const fits = (!choice.value || row.cells[column].textContent === choice.value)
        && [...row.cells].some((cell) => cell.textContent.toLowerCase().includes(wanted));
      row.hidden = !fits;
      shown += fits;
    }
    told.textContent = `${shown} of ${rows.length} rows shown`;
    // Printed as well while rows are hidden: nobody is to take a part for the whole.
    panel.classList.toggle("idle", shown === rows.length);
  }

  words.addEventListener("input", apply);
  choice.addEventListener("change", apply);
  panel.append(labelled("Rows with", words), labelled(heads[column], choice), told);
  table.parentElement.before(panel);
  apply();
}

for (const table of document.querySelectorAll("table[data-filter-by]")) {
  makeFilter(table);
  makeSortable(table);
}
