"""``pdcheck fuse``: Propose fuses for the bus and each branch of a rig: values, reasons, voltage rating.

Meant by: fuses breaker protect.

Propose fuses for RIG: for the bus and each branch the standard values between what flows and what the wire
carries, over every source and cable of a kit on which RIG does its job, or over those named.

Exit code 1 where a branch cannot be protected, or RIG does its job on none of them.

\b
pdcheck fuse pier-box.toml --kit kit.toml
"""

from pdcheck.cli.options import pair_options
from pdcheck.cli.questions import question

command = question(__name__, pair_options(), of_rig=True)
