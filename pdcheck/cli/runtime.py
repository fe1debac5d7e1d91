"""``pdcheck runtime``: Tell how long a power bank feeds a rig, and what takes its energy.

Meant by: battery hours bank powerbank power-bank duration energy lasts last.

Tell how many hours a power bank feeds RIG, what takes the energy, and what one change would bring.

The power bank says what it holds in its kit, or on the label that --source takes. Exit code 1 where the rig does
not do its job on it.

\b
pdcheck runtime field-sensor.toml --source "74Wh; 5V 3A, 20V 3A"
"""

from pdcheck.cli.options import pair_options
from pdcheck.cli.questions import question

command = question(__name__, pair_options(), of_rig=True)
