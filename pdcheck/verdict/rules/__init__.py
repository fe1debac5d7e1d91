"""Every rule on a rig, one file per subject."""
