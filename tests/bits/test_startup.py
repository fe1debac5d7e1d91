"""What one decoded capability list must not load: tables of other messages, NumPy, pydantic."""

import subprocess
import sys

PROGRAM = """
import sys
from pdcheck.bits.message import read_message
from pdcheck.bits.sequence import Listener
Listener().hear(read_message(bytes.fromhex("a1112c910100da2e2c31")))
print(*sorted(name for name in sys.modules if name.startswith(("pdcheck.bits.", "numpy", "pydantic", "rich"))))
"""


def test_tables_of_other_messages_stay_unloaded():
    run = subprocess.run([sys.executable, "-c", PROGRAM], capture_output=True, text=True, check=True)
    loaded = set(run.stdout.split())
    assert "pdcheck.bits.offers" in loaded
    assert not loaded & {"pdcheck.bits.blocks", "pdcheck.bits.data_words", "pdcheck.bits.bulk", "pdcheck.bits.pages"}
    assert not [name for name in loaded if name.startswith(("numpy", "pydantic", "rich"))]
