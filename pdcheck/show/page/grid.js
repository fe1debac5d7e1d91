// Sorts the rows of the kit's grid, and hides those that are not asked for.
const grid = document.getElementById("kit-grid"), sorting = document.getElementById("kit-sort")
const order = {
  worst: (one, two) => two.dataset.worst - one.dataset.worst || two.dataset.best - one.dataset.best || one.dataset.most - two.dataset.most,
  best: (one, two) => one.dataset.best - two.dataset.best || one.dataset.worst - two.dataset.worst || two.dataset.most - one.dataset.most,
  most: (one, two) => two.dataset.most - one.dataset.most,
  name: (one, two) => one.cells[0].textContent.localeCompare(two.cells[0].textContent, "en", { numeric: true }),
}
if (grid && sorting) {
  const body = grid.tBodies[0], { by, only } = sorting.elements
  sorting.hidden = false
  sorting.addEventListener("input", () => {
    body.append(...[...body.rows].sort(order[by.value]))
    for (const row of body.rows) row.hidden = Boolean(only.value) && !row.dataset.verdicts.split(" ").includes(only.value)
  })
}
