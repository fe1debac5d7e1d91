"""Pictures of a rig on a charger: every part in one line, the voltage down the chain, where the watts go."""
