"""A rig made in code, written to a file that the command line reads, and read back as itself."""

import pdcheck

rig = pdcheck.Rig(
    title="Tide gauge",
    trigger=pdcheck.Trigger("9V", rating="3A"),
    branch=[pdcheck.Branch("logger", wire="22AWG 1m", load=pdcheck.Load("4W"))],
    tolerance=pdcheck.Tolerance(load="10%"),
)
rig.write("tide-gauge.toml", overwrite=True)
assert pdcheck.Rig.read("tide-gauge.toml") == rig
print(pdcheck.need("tide-gauge.toml"))
