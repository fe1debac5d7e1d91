"""How long may the heater's cable be? Its resistance swept, the least bus voltage told."""

import pdcheck

rig = pdcheck.Rig.read("pier-box.toml")
for ohm in (0.05, 0.1, 0.2, 0.4, 0.8):
    [result] = pdcheck.check(rig, "kit.toml", "wall-45", pdcheck.Cable("C-C 3A", loop=ohm)).results
    bus = next((node.voltage_v.min for node in result.nodes if node.node == "bus"), 0.0)
    print(f"{ohm:4} ohm  {result.verdict:7}  {bus:.2f} V")
