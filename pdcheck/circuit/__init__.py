"""Volts, amperes and watts at min, typ and max."""
