"""The inverse: the least source, cable and wires that a rig works on."""
