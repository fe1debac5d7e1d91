"""Which of two converters leaves more for the mount?"""

import pdcheck

rig = pdcheck.Rig.read("pier-box.toml")
usual = rig.branches[0].converter
assert usual is not None
for converter in (usual, usual.replace(efficiency="84%", input_limit="3A")):
    new = rig.replace({"mount.converter": converter})
    row = pdcheck.envelope(new, "kit.toml", "wall-45", "thin-2m", branch="mount").rows()[0]
    print(converter.efficiency, round(row["greatest_w"], 1), row["limited_by"])
