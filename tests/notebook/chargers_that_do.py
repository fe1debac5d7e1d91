"""Which chargers of the kit run both builds, with some cable?"""

import pdcheck

runs = [
    {row["source"] for row in pdcheck.matrix(rig, "kit.toml").rows() if row["verdict"] == "runs"}
    for rig in ("pier-box.toml", "field-sensor.toml")
]
print(sorted(set.intersection(*runs)))
