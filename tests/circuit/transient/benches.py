"""The builds that the tests of the first second share: plain, healthy, and bent in one place each."""

from __future__ import annotations

from pdcheck.circuit.transient.given import Branch, Cable, Circuit, Converter, Level, Load, Source, Trigger

CABLE = Cable(0.2, 0.7e-6)
TRIGGER = Trigger(0.02, 10e-6, 0.02, 3.6, 0.3)
STIFF = Trigger(0.0, 10e-3, 0.0, 3.6, 0.1)
"""A bus that holds its voltage whatever a branch does: what the closed forms of one branch stand on."""
NO_CABLE = Cable(0.001, 1e-8)


def source(volts: float = 20.0, amps: float = 3.0, *, plain_a: float = 3.5, trips: bool = False) -> Source:
    return Source(Level(5.0, plain_a, trips), Level(volts, amps, trips))


def heater(ohm: float = 4.5, name: str = "heater") -> Branch:
    return Branch(name, 0.0, 0.0, 0.0, 0.0, None, 0.0, Load("resistance", ohm))


def module(watts: float, start_v: float, stop_v: float, *, name: str = "module", soft_start_s: float = 3e-3) -> Branch:
    """A converter of 12 V without loss that gives ``watts``, on a plain wire and 47 uF."""
    converter = Converter(12.0, 1.0, 0.0, start_v, stop_v, soft_start_s)
    return Branch(name, 0.05, 0.3e-6, 47e-6, 0.03, converter, 0.0, Load("resistance", 144.0 / watts))


def filtered(watts: float, ohm: float, henry: float, farad: float, *, stop_v: float = 4.0) -> Branch:
    """A converter behind R, L, C and nothing that damps."""
    converter = Converter(12.0, 1.0, 0.0, stop_v + 1.0, stop_v, 3e-3)
    return Branch("module", ohm, henry, farad, 0.0, converter, 0.0, Load("resistance", 144.0 / watts))


def stiff(volts: float, *branches: Branch) -> Circuit:
    """Branches on a bus that does not move."""
    return Circuit(Source(Level(volts, 60.0)), NO_CABLE, STIFF, branches)
