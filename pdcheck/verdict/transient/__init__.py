"""The first second: what happens from plugging in on, to the bus and to each branch."""
