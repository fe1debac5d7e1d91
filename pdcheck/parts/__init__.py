"""What stands on the bench: sources, cables, triggers, converters, wires, loads, kits, rigs."""
