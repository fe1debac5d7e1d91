"""The conversation that would happen, with what the branches of a rig see meanwhile."""
