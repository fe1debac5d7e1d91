"""``python -m pdcheck``: the command line."""

from pdcheck.cli import main

if __name__ == "__main__":
    main()
