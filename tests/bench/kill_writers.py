"""Kill a writer of a kit file a thousand times at random moments: the file is whole every time, or this fails.

python -m tests.bench.kill_writers [TIMES]
"""

from __future__ import annotations

import sys
import tempfile
from pathlib import Path

from tests.parts.test_keeping import kill_at_random

if __name__ == "__main__":
    times = int(sys.argv[1]) if len(sys.argv) > 1 else 1000
    with tempfile.TemporaryDirectory() as name:
        path = Path(name) / "kit.toml"
        path.write_text("# mine\ntitle = 'x'\n", encoding="utf-8")
        left = kill_at_random(path, times, seed=times)
    print(f"{times} kills, {left} of them in the middle of writing; the kit was whole every time")
