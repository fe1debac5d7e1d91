"""Which chargers of the kit run both builds, with some cable?"""

import pdcheck

rows = pdcheck.matrix(["pier-box.toml", "field-sensor.toml"], "kit.toml", only="runs").rows()
pier, field = ({row["source"] for row in rows if row["rig"] == rig} for rig in ("pier-box", "field-sensor"))
print(sorted(pier & field))
