"""pdcheck: what a USB-C source really offers, and whether the build behind it works."""

__version__ = "0.1.0"
