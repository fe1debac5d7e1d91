"""``pdcheck need``: Tell the least source, cable and wires to buy for a rig.

Meant by: buy shop shopping purchase order least cheapest recommend.

Tell the smallest charger and the plainest cable that RIG, a TOML file, works with; its thinnest wires; what
other trigger settings and fall-backs would need; and which single change would let you buy less.

Exit code 1 where no standard charger works.

\b
pdcheck need pier-box.toml
"""

from pdcheck.cli.questions import question

command = question(__name__, of_rig=True)
