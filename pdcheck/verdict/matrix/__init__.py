"""Every source x cable x rig: the same verdicts as one case at a time, worked out together."""
