"""What the mount's output can have at each voltage, as points for a plot."""

import pdcheck

found = pdcheck.envelope("pier-box.toml", "kit.toml", "brick-140", "epr-1m", branch="mount", voltages="9V..15V")
points = [(row["output_v"], row["power_w_min"]) for row in found.rows()]
for volts, watts in points[:4]:
    print(f"{volts:5.1f} V {'#' * round(watts)}")
