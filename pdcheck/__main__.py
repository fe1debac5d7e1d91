"""``pdcheck`` and ``python -m pdcheck``: the command line."""

from __future__ import annotations

import signal


def main() -> None:
    """Run the command line; Ctrl-C while it is still being loaded ends it without a word, as it does other programs."""
    heeded = signal.getsignal(signal.SIGINT) is signal.default_int_handler
    if heeded:
        signal.signal(signal.SIGINT, signal.SIG_DFL)
    from pdcheck.cli import main

    if heeded:
        signal.signal(signal.SIGINT, signal.default_int_handler)
    main()


if __name__ == "__main__":
    main()
