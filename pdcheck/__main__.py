"""``pdcheck`` and ``python -m pdcheck``: the command line."""

from __future__ import annotations

import gc
import signal


def main() -> None:
    """Run the command line; Ctrl-C while it is still being loaded ends it without a word, as it does other programs."""
    if signal.getsignal(signal.SIGINT) is signal.default_int_handler:
        # Whoever runs the commands heeds it again.
        signal.signal(signal.SIGINT, signal.SIG_DFL)
    # What a command makes lives as long as it does: to look for cycles among it again and again finds next to none.
    gc.set_threshold(50_000)
    from pdcheck.cli import main

    main()


if __name__ == "__main__":
    main()
