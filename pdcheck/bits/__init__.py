"""Words and messages on the wire, to fields and back, exactly."""
