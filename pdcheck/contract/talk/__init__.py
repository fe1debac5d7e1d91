"""The conversation of a trigger and a source: state tables that run, the CC line, VBUS over time."""
