"""``pick``: the offer that an engineer would take, why each other one loses, the request word to the bit."""

import importlib.util
from dataclasses import replace
from pathlib import Path

import pytest

from pdcheck.errors import InputError
from pdcheck.parts.cable import Cable
from pdcheck.parts.converter import Converter
from pdcheck.parts.source import Source
from pdcheck.verdict.pick import Wanted, pick

_spec = importlib.util.spec_from_file_location("independent", Path(__file__).parents[1] / "independent.py")
second = importlib.util.module_from_spec(_spec)
_spec.loader.exec_module(second)
FIXED, PPS, AVS = second.fixed_request, second.pps_request, second.avs_request

WALL = "5V 3A, 9V 3A, 15V 3A; PPS 3.3-16V 3A"
LAPTOP = "5V 3A, 9V 3A, 15V 3A, 20V 5A"
EPR = "5V 3A, 9V 3A, 15V 3A, 20V 5A, 28V 5A; AVS 15-28V 140W"
BOX = "buck-boost:6-36V:5A:92%"


@pytest.mark.parametrize(
    ("volts", "amps"), [(12, -2), (-12, 2), (0, 2), (12, 0), ("12A", 2), (12, float("nan")), (12, None)]
)
def test_an_output_that_is_none_is_not_ranked(volts, amps):
    with pytest.raises(InputError, match=r"(voltage|current): "):
        Wanted(volts, amps)


def picked(offers, output, converter=None, cable="C-C loop=100mOhm"):
    volts, amps = (float(part[:-1]) for part in output.split("@"))
    box = None if converter is None else Converter(converter, output=volts)
    return pick(Source(id="s", offers=offers), Cable(cable), Wanted(volts, amps, box))


# Offers, output, converter, cable; position, volts, amperes of the choice, its request words.
CHOICES = [
    # 24 W / 0.92 = 26.1 W: 9 V would have to give 3.2 A at 8.55 V, 15 V gives 1.9 A.
    (WALL, "12V@2A", BOX, "C-C loop=100mOhm", 3, 15000, 3000, (FIXED(3, 3000),)),
    # The higher voltage loses less in the cable.
    (LAPTOP, "12V@2A", BOX, "C-C loop=100mOhm", 4, 20000, 3000, (FIXED(4, 3000),)),
    (LAPTOP, "12V@4A", BOX, "C-C 5A", 4, 20000, 5000, (FIXED(4, 5000),)),
    # A buck does not reach 12 V from 9 V, and a converter for 16 V does not stand 20 V.
    (LAPTOP, "12V@1A", "buck:13-17V:5A:90%", "C-C loop=100mOhm", 3, 15000, 3000, (FIXED(3, 3000),)),
    # A boost to 24 V takes less than 24 V; 20 V at its highest is 21 V.
    (LAPTOP, "24V@0.5A", "boost:5-23V:5A:90%", "C-C loop=100mOhm", 4, 20000, 3000, (FIXED(4, 3000),)),
    # A boost to 20 V may not get 20 V.
    (LAPTOP, "20V@0.5A", "boost:5-20V:5A:90%", "C-C loop=100mOhm", 3, 15000, 3000, (FIXED(3, 3000),)),
    # Straight from the bus: the voltage itself; 9 V less 2 A x 0.1 ohm is within 5 %.
    (WALL, "9V@2A", None, "C-C loop=100mOhm", 2, 9000, 3000, (FIXED(2, 3000),)),
    # 12 V is had by PPS alone: programmed so that 12 V stand at the bus, 12 V + 2 A x 0.1 ohm.
    (WALL, "12V@2A", None, "C-C loop=100mOhm", 4, 12200, 3000, (PPS(4, 12200, 3000),)),
    (WALL, "12V@2A", None, "C-C loop=0mOhm", 4, 12000, 3000, (PPS(4, 12000, 3000),)),
    # EPR: the pair of words, over an EPR cable.
    (EPR, "24V@4A", None, "EPR loop=75mOhm", 9, 24300, 5000, (AVS(9, 24300, 5000, epr=True), 0xD230968C)),
    (EPR, "24V@4A", "buck:6-36V:6A:95%", "EPR loop=75mOhm", 8, 28000, 5000, (FIXED(8, 5000) | 1 << 22, 0x0008C1F4)),
    (EPR, "12V@4A", "buck:6-36V:6A:95%", "C-C 5A", 4, 20000, 5000, (FIXED(4, 5000),)),
    # Nothing but 5 V by Type-C, and nothing to ask for.
    ("5V 3A, 9V 3A", "5V@0.4A", None, "A-C", 0, 5000, 500, ()),
    # A battery offer is asked for all of its power.
    ("5V 3A, battery 9-12V 20W", "5V@2A", "buck:6-20V:3A:90%", "C-C", 2, 12000, 1666, (2 << 28 | 80 << 10 | 80,)),
]  # fmt: skip


@pytest.mark.parametrize("row", CHOICES, ids=[f"{row[1]} {row[2]} of {row[0][:24]} over {row[3]}" for row in CHOICES])
def test_the_choice(row):
    offers, output, converter, cable, position, volts, amps, words = row
    result = picked(offers, output, converter, cable)
    choice = result.best
    assert choice is not None, [(each.offer.max_mv, each.reasons) for each in result.ranking]
    assert (choice.offer.position, choice.voltage_mv, choice.current_ma) == (position, volts, amps)
    assert result.request() == words
    assert result.ranking[0] is choice


# Offers, output, converter, cable, position; what its reason says.
LOSERS = [
    (WALL, "12V@2A", BOX, "C-C", 1, "below the 6 V"),
    (WALL, "12V@2A", BOX, "C-C", 2, "and offers 3 A"),
    (WALL, "12V@2A", None, "C-C", 3, "not 12 V, and there is no converter"),
    (LAPTOP, "12V@1A", "buck:13-17V:5A:90%", "C-C", 4, "rated for 17 V"),
    (LAPTOP, "12V@1A", "buck:13-17V:5A:90%", "C-C", 2, "below the 13 V"),
    (LAPTOP, "20V@0.5A", "boost:5-24V:5A:90%", "C-C", 4, "a boost set to 20 V passes"),
    (LAPTOP, "12V@3A", "buck:13-36V:1.8A:90%", "C-C 5A", 4, "rated for 1.8 A"),
    (EPR, "12V@4A", BOX, "C-C 5A", 8, "EPR"),
    (EPR, "12V@4A", BOX, "C-C 5A", 9, "EPR"),
    (WALL, "12V@2A", BOX, "A-C", 3, "PD does not work"),
    ("5V 3A", "5V@3A", "buck-boost:4-36V:9A:90%", "C-C loop=400mOhm", 1, "collapses"),
    (WALL, "20V@1A", None, "C-C", 4, "outside its 3.3..16 V"),
]  # fmt: skip


@pytest.mark.parametrize(
    "row", LOSERS, ids=[f"{row[4]} of {row[0][:20]} for {row[1]} {row[2]}, {row[3]}" for row in LOSERS]
)
def test_why_each_other_one_loses(row):
    offers, output, converter, cable, position, said = row
    each = next(each for each in picked(offers, output, converter, cable).ranking if each.offer.position == position)
    assert not each.ok
    assert any(said in reason for reason in each.reasons), each.reasons


# Offers, output, converter, cable; of each offer in order: position, kind, whether it will do, volts, amperes, the part
# of the current left, voltage at the bus and loss (each at least, typically, at most), and the reasons.
RANKINGS = [
    ("5V 3A, 9V 3A, 15V 3A; PPS 3.3-16V 3A", "12V@2A", "buck-boost:6-36V:5A:92%", "C-C loop=100mOhm",
     """
3 fixed ok 15000 mV 3000 mA, 0.3817, 14.065 14.824 15.583 V, 2.3672 2.3966 2.431 W
4 pps ok 16000 mV 3000 mA, 0.4213, 15.026 15.835 16.643 V, 2.3326 2.3583 2.3884 W
    needs a trigger that sets the voltage and keeps asking
2 fixed no 9000 mV 3000 mA, -0.0562, 8.2331 8.7002 9.1654 V, 2.8971 2.986 3.0909 W
    it must give 3.17 A in the worst case and offers 3 A
1 fixed no 5000 mV 3000 mA, -, - V, - W
    5 V is below the 6 V that the converter needs
"""),
    ("5V 3A, 9V 3A, 15V 3A; PPS 3.3-16V 3A", "12V@2A", None, "C-C loop=100mOhm",
     """
4 pps ok 12200 mV 3000 mA, 0.3333, 11.39 12 12.61 V, 0.4 0.4 0.4 W
    needs a trigger that sets the voltage and keeps asking
1 fixed no 5000 mV 3000 mA, 0.3333, 4.55 4.8 5.05 V, 0.4 0.4 0.4 W
    gives 4.8 V at the bus, not 12 V, and there is no converter
2 fixed no 9000 mV 3000 mA, 0.3333, 8.35 8.8 9.25 V, 0.4 0.4 0.4 W
    gives 8.8 V at the bus, not 12 V, and there is no converter
3 fixed no 15000 mV 3000 mA, 0.3333, 14.05 14.8 15.55 V, 0.4 0.4 0.4 W
    gives 14.8 V at the bus, not 12 V, and there is no converter
"""),
    ("5V 3A, 9V 3A, 15V 3A, 20V 5A", "12V@1A", "buck:13-17V:5A:90%", "C-C loop=100mOhm",
     """
3 fixed ok 15000 mV 3000 mA, 0.6860, 14.156 14.911 15.665 V, 1.4058 1.4133 1.4221 W
4 fixed no 20000 mV 3000 mA, 0.7652, 18.93 19.933 20.936 V, 1.3739 1.3781 1.3829 W
    converter: a 20 V supply may really give 21 V; this converter is rated for 17 V
1 fixed no 5000 mV 3000 mA, -, - V, - W
    5 V is below the 13 V that the converter needs
2 fixed no 9000 mV 3000 mA, -, - V, - W
    9 V is below the 13 V that the converter needs
"""),
    ("5V 3A, 9V 3A, 15V 3A, 20V 5A", "12V@3A", "buck:13-36V:1.8A:90%", "C-C 5A loop=100mOhm",
     """
4 fixed no 20000 mV 5000 mA, 0.5742, 18.787 19.798 20.808 V, 4.3695 4.4082 4.4533 W
    converter: takes 2.13 A at its input in the worst case and is rated for 1.8 A
3 fixed no 15000 mV 3000 mA, 0.0451, 13.964 14.728 15.492 V, 4.6667 4.7376 4.8206 W
    converter: takes 2.86 A at its input in the worst case and is rated for 1.8 A
1 fixed no 5000 mV 3000 mA, -, - V, - W
    5 V is below the 13 V that the converter needs
2 fixed no 9000 mV 3000 mA, -, - V, - W
    9 V is below the 13 V that the converter needs
"""),
    ("5V 3A, 9V 3A, 15V 3A, 20V 5A", "19V@3A", "boost:6-30V:5A:90%", "C-C 5A loop=300mOhm",
     """
4 fixed no 20000 mV 5000 mA, 0.2940, 17.941 19 20.052 V, 9.3259 9.6667 10.072 W
    converter: a boost set to 19 V passes its input of up to 21 V on to the load
3 fixed no 15000 mV 3000 mA, -0.6543, 12.761 13.603 14.434 V, 12.109 12.836 13.723 W
    it must give 4.96 A in the worst case and offers 3 A
2 fixed no 9000 mV 3000 mA, -2.7577, 5.618 5.618 6.5486 V, 34.393 44.459 44.459 W
    the cable cannot pass 57 W at this voltage: the voltage collapses
    converter: its input falls to 5.62 V on 9 V and it needs 6 V
    converter: takes 11.3 A at its input in the worst case and is rated for 5 A
    it must give 11.3 A in the worst case and offers 3 A
1 fixed no 5000 mV 3000 mA, -, - V, - W
    5 V is below the 6 V that the converter needs
"""),
    ("5V 3A, 9V 3A, 15V 3A, 20V 5A, 28V 5A; AVS 15-28V 140W", "12V@4A", "buck-boost:6-36V:5A:92%",
     "C-C 5A loop=100mOhm",
     """
4 fixed ok 20000 mV 5000 mA, 0.4426, 18.721 19.736 20.749 V, 4.8062 4.8728 4.9506 W
3 fixed no 15000 mV 3000 mA, -0.2535, 13.874 14.644 15.411 V, 5.32 5.4433 5.5881 W
    it must give 3.76 A in the worst case and offers 3 A
2 fixed no 9000 mV 3000 mA, -1.2046, 7.8886 8.3772 8.8612 V, 7.6406 8.0528 8.5482 W
    converter: takes 6.61 A at its input in the worst case and is rated for 5 A
    it must give 6.61 A in the worst case and offers 3 A
1 fixed no 5000 mV 3000 mA, -, - V, - W
    5 V is below the 6 V that the converter needs
8 fixed no 28000 mV 0 mA, -, - V, - W
    needs EPR, which this cable does not carry
9 epr-avs no 28000 mV 0 mA, -, - V, - W
    needs EPR, which this cable does not carry
"""),
    ("5V 3A, 9V 3A, 15V 3A, 20V 5A, 28V 5A; AVS 15-28V 140W", "24V@4A", None, "EPR loop=75mOhm",
     """
9 epr-avs ok 24300 mV 5000 mA, 0.2000, 22.785 24 25.215 V, 1.2 1.2 1.2 W
    needs a trigger that can do AVS
4 fixed no 20000 mV 5000 mA, 0.2000, 18.7 19.7 20.7 V, 1.2 1.2 1.2 W
    gives 19.7 V at the bus, not 24 V, and there is no converter
8 fixed no 28000 mV 5000 mA, 0.2000, 26.3 27.7 29.1 V, 1.2 1.2 1.2 W
    gives 27.7 V at the bus, not 24 V, and there is no converter
1 fixed no 5000 mV 3000 mA, -0.3333, 4.45 4.7 4.95 V, 1.2 1.2 1.2 W
    gives 4.7 V at the bus, not 24 V, and there is no converter
2 fixed no 9000 mV 3000 mA, -0.3333, 8.25 8.7 9.15 V, 1.2 1.2 1.2 W
    gives 8.7 V at the bus, not 24 V, and there is no converter
3 fixed no 15000 mV 3000 mA, -0.3333, 13.95 14.7 15.45 V, 1.2 1.2 1.2 W
    gives 14.7 V at the bus, not 24 V, and there is no converter
"""),
    ("5V 3A, 9V 3A, 15V 3A, 20V 5A, 28V 5A; AVS 15-28V 140W", "24V@4A", "buck:26-36V:6A:95%", "EPR loop=75mOhm",
     """
8 fixed ok 28000 mV 5000 mA, 0.2319, 26.312 27.727 29.14 V, 5.9546 6.0489 6.1589 W
9 epr-avs ok 28000 mV 5000 mA, 0.2319, 26.312 27.727 29.14 V, 5.9546 6.0489 6.1589 W
    needs a trigger that can do AVS
1 fixed no 5000 mV 3000 mA, -, - V, - W
    5 V is below the 26 V that the converter needs
2 fixed no 9000 mV 3000 mA, -, - V, - W
    9 V is below the 26 V that the converter needs
3 fixed no 15000 mV 3000 mA, -, - V, - W
    15 V is below the 26 V that the converter needs
4 fixed no 20000 mV 5000 mA, -, - V, - W
    20 V is below the 26 V that the converter needs
"""),
    ("5V 3A, 9V 3A, 15V 3A, 20V 5A, 28V 5A; AVS 15-28V 140W", "5V@1A", "buck:6-14V:6A:95%", "EPR loop=75mOhm",
     """
2 fixed ok 9000 mV 3000 mA, 0.7937, 8.5036 8.9559 9.408 V, 0.28663 0.28906 0.29189 W
8 fixed no 28000 mV 5000 mA, 0.9604, 26.585 27.986 29.387 V, 0.26556 0.26581 0.2661 W
    converter: a 28 V supply may really give 29.4 V; this converter is rated for 14 V
4 fixed no 20000 mV 5000 mA, 0.9445, 18.979 19.98 20.981 V, 0.26788 0.26836 0.26893 W
    converter: a 20 V supply may really give 21 V; this converter is rated for 14 V
3 fixed no 15000 mV 3000 mA, 0.8766, 14.222 14.974 15.725 V, 0.27156 0.27242 0.27343 W
    converter: a 15 V supply may really give 15.8 V; this converter is rated for 14 V
1 fixed no 5000 mV 3000 mA, -, - V, - W
    5 V is below the 6 V that the converter needs
9 epr-avs no 28000 mV 0 mA, -, - V, - W
    even its lowest voltage, 15 V, is too much for the converter
"""),
    ("5V 3A, 9V 3A, 15V 3A; PPS 3.3-16V 3A", "5V@0.45A", None, "A-C loop=100mOhm",
     """
0 type-c ok 5000 mV 500 mA, 0.1000, 4.705 4.955 5.205 V, 0.02025 0.02025 0.02025 W
    leaves 10 % of its current to spare; 20 % is comfortable
1 fixed no 5000 mV 0 mA, -, - V, - W
    PD does not work with this cable
2 fixed no 9000 mV 0 mA, -, - V, - W
    PD does not work with this cable
3 fixed no 15000 mV 0 mA, -, - V, - W
    PD does not work with this cable
4 pps no 16000 mV 0 mA, -, - V, - W
    PD does not work with this cable
"""),
    ("5V 3A, battery 9-12V 20W", "5V@2A", "buck:6-20V:3A:90%", "C-C loop=100mOhm",
     """
2 battery ok 12000 mV 1666 mA, 0.2077, 8.418 11.907 12.511 V, 1.19 1.1982 1.2853 W
1 fixed no 5000 mV 3000 mA, -, - V, - W
    5 V is below the 6 V that the converter needs
"""),
    ("5V 3A, variable 9-12V 2A", "5V@3A", "buck:8.6-20V:3A:90%", "C-C loop=100mOhm",
     """
2 variable no 12000 mV 2000 mA, 0.0020, 8.3504 11.859 12.466 V, 1.8454 1.8642 2.065 W
    converter: its input falls to 8.35 V on 12 V and it needs 8.6 V
1 fixed no 5000 mV 3000 mA, -, - V, - W
    5 V is below the 8.6 V that the converter needs
"""),
    ("5V 3A, variable 9-12V 2A", "11.5V@2.1A", None, "C-C loop=100mOhm",
     """
1 fixed no 5000 mV 3000 mA, 0.3000, 4.54 4.79 5.04 V, 0.441 0.441 0.441 W
    gives 4.79 V at the bus, not 11.5 V, and there is no converter
2 variable no 12000 mV 2000 mA, -0.0500, 8.34 11.79 12.39 V, 0.441 0.441 0.441 W
    gives 8.79 to 11.79 V at the bus, not 11.5 V, and there is no converter
"""),
    ("5V 3A, 9V 3A", "5V@6A", "buck-boost:4-36V:9A:90%", "C-C loop=400mOhm",
     """
2 fixed no 9000 mV 3000 mA, -0.7099, 6.4981 7.13 7.7237 V, 10.783 12.076 13.859 W
    it must give 5.13 A in the worst case and offers 3 A
1 fixed no 5000 mV 3000 mA, -, - V, - W
    the cable cannot pass 30 W at this voltage: the voltage collapses
"""),
    ("5V 3A, 9V 2A; PPS 5-11V 2A", "9V@1.9A", None, "C-C loop=0mOhm",
     """
2 fixed ok 9000 mV 2000 mA, 0.0500, 8.55 9 9.45 V, 0 0 0 W
    leaves 5 % of its current to spare; 20 % is comfortable
3 pps ok 9000 mV 2000 mA, 0.0500, 8.55 9 9.45 V, 0 0 0 W
    leaves 5 % of its current to spare; 20 % is comfortable
    needs a trigger that sets the voltage and keeps asking
1 fixed no 5000 mV 3000 mA, 0.3667, 4.75 5 5.25 V, 0 0 0 W
    gives 5 V at the bus, not 9 V, and there is no converter
"""),
    ("5V 3A, battery 9-12V 20W", "12V@0.5A", None, "C-C loop=100mOhm",
     """
1 fixed no 5000 mV 3000 mA, 0.8333, 4.7 4.95 5.2 V, 0.025 0.025 0.025 W
    gives 4.95 V at the bus, not 12 V, and there is no converter
2 battery no 12000 mV 1666 mA, 0.6999, 8.5 11.95 12.55 V, 0.025 0.025 0.025 W
    gives 8.95 to 11.95 V at the bus, not 12 V, and there is no converter
"""),
    ("5V 3A, variable 11.5-12V 2A", "12V@1A", None, "C-C loop=100mOhm",
     """
2 variable ok 12000 mV 2000 mA, 0.5000, 10.825 11.9 12.5 V, 0.1 0.1 0.1 W
1 fixed no 5000 mV 3000 mA, 0.6667, 4.65 4.9 5.15 V, 0.1 0.1 0.1 W
    gives 4.9 V at the bus, not 12 V, and there is no converter
"""),
    ("0x0801912C 0x0002D000", "9V@1A", None, "C-C loop=0mOhm",
     """
1 fixed no 5000 mV 3000 mA, 0.6667, 4.75 5 5.25 V, 0 0 0 W
    gives 5 V at the bus, not 9 V, and there is no converter
2 fixed no 9000 mV 0 mA, -1.0000, 8.55 9 9.45 V, 0 0 0 W
    it must give 1 A in the worst case and offers 0 A
"""),
]  # fmt: skip


def figures(triple):
    return "-" if triple is None else " ".join(f"{value:.5g}" for value in triple)


def line(each):
    headroom = "-" if each.headroom is None else f"{each.headroom:.4f}"
    does = "ok" if each.ok else "no"
    head = f"{each.offer.position} {each.offer.kind} {does} {each.voltage_mv} mV {each.current_ma} mA, {headroom}"
    return [f"{head}, {figures(each.bus_v)} V, {figures(each.loss_w)} W", *(f"    {reason}" for reason in each.reasons)]


@pytest.mark.parametrize("row", RANKINGS, ids=[f"{row[1]} {row[2]} of {row[0]}" for row in RANKINGS])
def test_the_whole_ranking(row):
    *asked, expected = row
    assert [part for each in picked(*asked).ranking for part in line(each)] == expected.strip("\n").split("\n")


# What a converter or a straight load stands, on its limit and just beyond it.
LIMITS = [
    ("20V 3A", "12V@1A", "buck:13-21V:5A:90%", "buck:13-20.9V:5A:90%"),
    ("9V 3A", "12V@0.5A", "buck-boost:8.55-21V:5A:100%", "buck-boost:8.56-21V:5A:100%"),
    ("20V 3A", "19V@2A", "buck-boost:6-30V:2A:100%", "buck-boost:6-30V:1.999A:100%"),
]


@pytest.mark.parametrize(("offers", "output", "stands", "lacks"), LIMITS)
def test_a_converter_on_its_limit_and_beyond(offers, output, stands, lacks):
    assert picked(offers, output, stands, "C-C loop=0mOhm").best is not None
    assert picked(offers, output, lacks, "C-C loop=0mOhm").best is None


@pytest.mark.parametrize(("volts", "ok"), [(9.5, True), (9.45, False), (10.5, True), (10.55, False)])
def test_five_percent_without_a_converter(volts, ok):
    assert (picked(f"{volts}V 3A", "10V@1A", cable="C-C loop=0mOhm").best is not None) == ok


def test_a_supply_that_wanders_is_no_fixed_voltage():
    wide, narrow = (picked(f"5V 3A, variable {volts}-12V 2A", "12V@1A", cable="C-C loop=0mOhm") for volts in (9, 11.5))
    assert wide.best is None
    assert narrow.best is not None and narrow.best.offer.kind == "variable"


def test_of_two_alike_the_first_is_taken():
    ranking = picked("0x0801912C 0x0002D12C 0x0002D12C", "9V@1A", cable="C-C loop=0mOhm").ranking
    assert [each.offer.position for each in ranking] == [2, 3, 1]
    more = picked("0x0801912C 0x0002D0C8 0x0002D12C", "9V@1A", cable="C-C loop=0mOhm").ranking
    assert [each.offer.position for each in more] == [3, 2, 1]


def test_nothing_to_choose_and_nothing_to_ask():
    lost = picked("5V 3A", "12V@2A")
    assert lost.best is None and lost.request() == ()
    assert not lost.ranking[0]._replace(headroom=None).in_hand
    assert replace(lost, ranking=()).best is None


def test_every_offer_is_ranked_and_every_loser_has_a_reason():
    for offers in (WALL, LAPTOP, EPR):
        for cable in ("C-C", "C-C 5A", "EPR", "A-C"):
            for output, converter in (("12V@2A", BOX), ("12V@2A", None), ("24V@9A", BOX)):
                ranking = picked(offers, output, converter, cable).ranking
                found = sorted(each.offer.position for each in ranking if each.offer.position)
                assert found == [offer.position for offer in Source(id="s", offers=offers).offers]
                assert all(each.reasons for each in ranking if not each.ok)
                assert [each.ok for each in ranking] == sorted((each.ok for each in ranking), reverse=True)


def test_twenty_percent_in_hand_at_exactly_eighty():
    # 9 V 3 A at 2.4 A leaves exactly 20 %; 2.41 A does not, and is said.
    exact, over = (picked("9V 3A", f"9V@{amps}A", cable="C-C loop=50mOhm").best for amps in (2.4, 2.41))
    assert exact.headroom == pytest.approx(0.2) and exact.reasons == ()
    assert over.ok and any("20 % is comfortable" in reason for reason in over.reasons)


def test_in_hand_goes_before_loss():
    # 20 V loses less and would leave 10 %; 15 V leaves more than 20 %.
    ranking = picked("5V 3A, 15V 3A, 20V 1.5A", "12V@2A", BOX).ranking
    assert [each.offer.max_mv for each in ranking] == [15000, 20000, 5000]


def test_three_amperes_pass_and_a_step_more_does_not():
    assert picked("9V 3A", "9V@3A", cable="C-C loop=50mOhm").best is not None
    assert picked("9V 3A", "9V@3.01A", cable="C-C loop=50mOhm").best is None


def test_an_unknown_cable_is_counted_at_3_a_and_said(pdcheck):
    outcome = pdcheck("pick", "--json", "--source", LAPTOP, "--output", "12V@4A", "--converter", "buck:14-36V:6A:95%")
    document = outcome.json
    assert document["choice"]["current_ma"] == 3000
    assert document["choice"]["request_word"] == f"{FIXED(4, 3000):08X}"
    said = " ".join(document["assumed"])
    assert "3 A" in said and "250 mΩ" in said


def test_json(pdcheck):
    outcome = pdcheck("pick", "--json", "--source", WALL, "--output", "12V@2A", "--converter", BOX)
    assert outcome.code == 0
    document = outcome.json
    assert document["schema"] == "pdcheck/pick/1"
    choice = {key: document["choice"][key] for key in ("position", "kind", "voltage_mv", "current_ma", "request_word")}
    assert choice == {
        "position": 3, "kind": "fixed", "voltage_mv": 15000, "current_ma": 3000, "request_word": "3004B12C",
    }  # fmt: skip
    for row in document["ranking"]:
        assert {"position", "ok", "reasons", "headroom", "bus_v", "converter_in_a", "loss_w"} <= set(row)
        for key in ("bus_v", "converter_in_a", "loss_w"):
            triple = row[key]
            assert triple is None or triple["min"] <= triple["typ"] <= triple["max"]
    nothing = pdcheck("pick", "--json", "--source", "5V 3A", "--output", "12V@2A")
    assert nothing.code == 1 and nothing.json["choice"] is None and nothing.json["ranking"]


def test_the_sums_of_the_choice():
    # 12 V 2 A through 92 % is 26.087 W. From 15 V over 0.1 ohm: V = (15 + sqrt(225 - 0.4 x 26.087)) / 2 = 14.8240 V,
    # 1.75978 A; lost: 0.3097 W in the cable and 2.087 W in the converter. At worst 14.25 V: 14.0644 V, 1.85484 A.
    choice = picked(WALL, "12V@2A", BOX).best
    assert choice.bus_v.typ == pytest.approx(14.82402, rel=1e-5)
    assert choice.converter_in_a.typ == pytest.approx(1.75978, rel=1e-5)
    assert choice.loss_w.typ == pytest.approx(0.30968 + 2.08696, rel=1e-4)
    assert choice.bus_v.min == pytest.approx(14.06452, rel=1e-5)
    assert choice.converter_in_a.max == pytest.approx(1.85481, rel=1e-5)
    assert choice.headroom == pytest.approx(1 - 1.85481 / 3, rel=1e-4)


@pytest.mark.parametrize("source", ["wall-45", WALL, "0x0801912C 0x0002D12C 0x0004B12C", "path"])
def test_ways_to_name_a_source(pdcheck, tmp_path, source):
    kit = Path(__file__).parents[2] / "pdcheck" / "data" / "kit.toml"
    if source == "path":
        path = tmp_path / "label.txt"
        path.write_text(WALL)
        source = path
    outcome = pdcheck(
        "pick",
        "--json",
        "--source",
        source,
        "--output",
        "12V@2A",
        "--converter",
        BOX,
        "--cable",
        "thin-2m",
        "--kit",
        kit,
    )
    assert outcome.code == 0 and outcome.json["choice"]["voltage_mv"] == 15000
    assert outcome.json["cable"] == "thin-2m"


@pytest.mark.parametrize("output", ["12V@2A", "12 V @ 2 A", "12V@2000mA", "12V@24W"])
def test_ways_to_write_an_output(pdcheck, output):
    outcome = pdcheck("pick", "--json", "--source", WALL, "--output", output, "--converter", BOX)
    assert outcome.json["output"] == {"voltage_v": 12.0, "current_a": 2.0}


@pytest.mark.parametrize(
    "converter", ["buck-boost", "buck-boost:6-36V", "buck-boost:6V-36V:5A", "buck-boost::5A:92%", "buckboost:6..36V"]
)
def test_what_is_not_known_of_a_converter_is_left_off(pdcheck, converter):
    outcome = pdcheck("pick", "--json", "--source", WALL, "--output", "12V@2A", "--converter", converter)
    assert outcome.code == 0 and outcome.json["choice"]["voltage_mv"] == 15000
