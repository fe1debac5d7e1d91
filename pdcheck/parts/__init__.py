"""What stands on the bench: sources, cables, triggers, converters, wires, loads, and the kit and rig files of them."""
