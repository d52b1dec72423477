"use strict";
// Headings of sortable tables become buttons: a click sorts the rows, another one turns the order round.
for (const table of document.querySelectorAll("table.sortable")) {
  const body = table.tBodies[0];
  const heads = [...table.tHead.rows[0].cells];
  heads.forEach((head, column) => {
    const key = (row) => row.cells[column].dataset.sort ?? row.cells[column].textContent.trim();
    // Figures begin with the largest, texts with A, an order of its own (by which the first column is sorted) with its first.
    const figures = [...body.rows].some((row) => row.cells[column].dataset.sort !== undefined);
    const missing = (text) => text === "" || text === "-" || (figures && Number.isNaN(Number(text)));
    const compare = (one, other) =>
      figures ? Number(one) - Number(other) : one.localeCompare(other, "en", { numeric: true });
    const button = document.createElement("button");
    button.type = "button";
    button.append(...head.childNodes);
    head.append(button);
    button.addEventListener("click", () => {
      const before = head.getAttribute("aria-sort");
      const falling = before ? before === "ascending" : figures && column > 0;
      heads.forEach((other) => other.removeAttribute("aria-sort"));
      head.setAttribute("aria-sort", falling ? "descending" : "ascending");
      const rows = [...body.rows].map((row) => [key(row), row]);
      rows.sort(([one], [other]) => {
        // What is not known stands last either way.
        if (missing(one) || missing(other)) return missing(one) - missing(other);
        return falling ? compare(other, one) : compare(one, other);
      });
      body.append(...rows.map(([, row]) => row));
    });
  });
}
