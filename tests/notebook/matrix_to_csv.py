"""The matrix as CSV, and as columns, as a table library has them."""

import csv
import sys

import pdcheck

rows = pdcheck.matrix(["pier-box.toml", "pedalboard.toml"], "kit.toml", source="wall-45").rows()
writer = csv.DictWriter(sys.stdout, list(rows[0]), lineterminator="\n")
writer.writeheader()
writer.writerows(rows)
columns = {name: [row[name] for row in rows] for name in rows[0]}
print(max(columns["max_w"]))
