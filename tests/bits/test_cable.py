"""Marker words to what a cable may be counted on for: each code of the table, both revisions, contradictions."""

import pytest

from pdcheck.bits.cable import read_cable_words
from pdcheck.errors import InputError

OLD, NEW = 0xFF008041, 0xFF00A841
PASSIVE, ACTIVE, DEVICE = 0x1800EE01, 0x2000EE01, 0x3000EE01


def read(word, *more, header=NEW, identity=PASSIVE, revision=None):
    words = [identity, 0, 0, word, *more]
    return read_cable_words(words if header is None else [header, *words], revision)


def codes(reading):
    return {problem.code for problem in reading.problems}


@pytest.mark.parametrize(
    ("code", "current", "odd"), [(0, 3000, True), (1, 3000, False), (2, 5000, False), (3, 3000, True)]
)
@pytest.mark.parametrize("header", [OLD, NEW])
def test_every_code_of_the_current(code, current, odd, header):
    reading = read(0x10080000 | code << 5, header=header)
    # Code 0 was 1.5 A in the oldest markers (PD R2.0, from memory) and has had no meaning since.
    oldest = header == OLD and code == 0
    assert reading.current_ma == (1500 if oldest else current)
    assert ("current-reserved" in codes(reading)) is (odd and not oldest)


@pytest.mark.parametrize(
    ("code", "voltage", "old"), [(0, 20000, False), (1, 20000, True), (2, 20000, True), (3, 50000, False)]
)
def test_every_code_of_the_voltage(code, voltage, old):
    reading = read(0x10080040 | code << 9)
    assert reading.voltage_mv == voltage
    assert ("voltage-deprecated" in codes(reading)) is old
    # The older layout has the lanes' direction there.
    assert read(0x10080040 | code << 9, header=OLD).voltage_mv == 20000


@pytest.mark.parametrize("epr", [0, 1])
@pytest.mark.parametrize("volts", [0, 3])
@pytest.mark.parametrize("amps", [1, 2])
def test_epr_takes_all_three(epr, volts, amps):
    reading = read(0x10080000 | epr << 17 | volts << 9 | amps << 5)
    assert reading.epr is (epr == 1 and volts == 3 and amps == 2)
    assert ("epr-contradicted" in codes(reading)) is (bool(epr) and not reading.epr)
    assert ("50v-not-epr" in codes(reading)) is (volts == 3 and not epr)


def test_the_structured_version_decides_and_can_be_overruled():
    word = 0x10082640
    assert (read(word, header=OLD).revision, read(word, header=NEW).revision) == ("2.0", "3.x")
    assert read(word, header=OLD, revision="3.x").voltage_mv == 50000
    assert read(word, header=NEW, revision="2.0").voltage_mv == 20000


def test_without_a_header_50_v_is_believed_only_with_epr():
    assert read(0x10082640, header=None).voltage_mv == 20000
    assert read(0x100A2640, header=None).voltage_mv == 50000
    assert read(0x100A2640, header=None).decided_by.startswith("assumed")


def test_an_active_cable_without_vbus_carries_nothing():
    assert read(0x10080040, identity=ACTIVE).current_ma == 0
    assert read(0x10080050, 0, identity=ACTIVE).current_ma == 5000


@pytest.mark.parametrize(
    ("word", "current"),
    [(0x10000000, 0), (0x10000001 | 10 << 7 | 10 << 1, 3000), (0x10004001 | 10 << 7 | 10 << 1, 5000)],
)
def test_a_vconn_powered_device_is_no_cable(word, current):
    reading = read(word, identity=DEVICE)
    assert reading.current_ma == current and "vpd" in codes(reading)


@pytest.mark.parametrize(
    "words", [[NEW], [0xFF00A881], [0xFF00A8C1], [0xFF00A842, 1, 2], [NEW, PASSIVE], [NEW, 0, 0, 0, 0x100A2640]]
)
def test_what_tells_nothing_of_a_cable_is_taken_as_unmarked(words):
    reading = read_cable_words(words)
    assert (reading.construction, reading.emarker, reading.current_ma, reading.voltage_mv) == (
        "unmarked",
        False,
        3000,
        20000,
    )
    assert "no-marker" in codes(reading)


@pytest.mark.parametrize(("words", "revision"), [([], None), ([NEW], "4"), ([NEW], "")])
def test_what_is_refused(words, revision):
    with pytest.raises(InputError):
        read_cable_words(words, revision)


def test_reserved_bits_are_told_and_do_no_harm():
    reading = read(0x10082058 | 1 << 20)
    assert (reading.current_ma, reading.voltage_mv) == (5000, 20000)
    assert "reserved-bits" in codes(reading)


CLEAN = {
    "emarker": True,
    "revision": "3.x",
    "decided_by": "the structured version of the VDM header",
    "vendor_id": 0xEE01,
    "product_id": 0xF034,
    "certification": 0x1234,
    "plug_type": "USB Type-C",
    "latency": "<10 ns (about 1 m)",
}
UNMARKED = {
    "construction": "unmarked",
    "emarker": False,
    "current_ma": 3000,
    "voltage_mv": 20000,
    "epr": False,
    "revision": "3.x",
    "decided_by": "nothing to decide",
    "vendor_id": None,
    "product_id": None,
    "certification": None,
    "plug_type": None,
    "speed": None,
    "latency": None,
}
START = ["vdm-header", "id-header", "cert-stat", "product"]


@pytest.mark.parametrize(
    ("words", "revision", "expected", "kinds"),
    [
        (
            [NEW, PASSIVE, 0x1234, 0xF0340100, 0x000A2642],
            None,
            {
                **CLEAN,
                "construction": "passive",
                "current_ma": 5000,
                "voltage_mv": 50000,
                "epr": True,
                "speed": "USB 3.2/USB4 Gen2",
            },
            [*START, "passive-cable"],
        ),
        (
            [OLD, PASSIVE, 0x1234, 0xF0340100, 0x00082630],
            None,
            {
                **CLEAN,
                "construction": "passive",
                "current_ma": 3000,
                "voltage_mv": 20000,
                "epr": False,
                "revision": "2.0",
                "speed": "USB 2.0",
            },
            [*START, "passive-cable"],
        ),
        (
            [PASSIVE, 0x1234, 0xF0340100, 0x00082630],
            "2.0",
            {
                **CLEAN,
                "construction": "passive",
                "current_ma": 3000,
                "voltage_mv": 20000,
                "epr": False,
                "revision": "2.0",
                "decided_by": "asked for",
                "speed": "USB 2.0",
            },
            [*START[1:], "passive-cable"],
        ),
        (
            [NEW, ACTIVE, 0x1234, 0xF0340100, 0x60083651, 0],
            None,
            {
                **CLEAN,
                "construction": "active",
                "current_ma": 5000,
                "voltage_mv": 50000,
                "epr": False,
                "speed": "USB 3.2 Gen1",
            },
            [*START, "active-cable", "active-cable-2"],
        ),
        (
            [NEW, DEVICE, 0x1234, 0xF0340100, 0x10004001],
            None,
            {
                **CLEAN,
                "construction": "active",
                "current_ma": 5000,
                "voltage_mv": 20000,
                "epr": False,
                "plug_type": None,
                "speed": None,
                "latency": None,
            },
            [*START, "vpd"],
        ),
        ([NEW], None, UNMARKED, ["vdm-header"]),
        ([NEW + 0x40, PASSIVE], None, UNMARKED, ["vdm-header"]),
        ([PASSIVE, 5], None, {**UNMARKED, "vendor_id": 0xEE01}, ["id-header", "cert-stat"]),
        ([NEW, 0x0000EE01, 0, 0, 1], None, {**UNMARKED, "vendor_id": 0xEE01}, [*START, "unread"]),
    ],
)
def test_everything_that_a_marker_says(words, revision, expected, kinds):
    reading = read_cable_words(words, revision)
    told = reading._asdict()
    assert [each.kind for each in told.pop("readings")] == kinds
    assert [each.word for each in reading.readings] == words[: len(kinds)]
    told.pop("problems")
    assert told == expected


@pytest.mark.parametrize(
    ("words", "told"),
    [
        ([NEW, PASSIVE, 0, 0, 0x10082040], []),
        ([NEW | 0x20, PASSIVE, 0, 0, 0x10082060], ["reserved-bits", "reserved-code", "current-reserved"]),
        ([OLD, PASSIVE, 0, 0, 0x10082040], ["no-vbus"]),
        ([NEW, ACTIVE, 0, 0, 0x10083060, 0], ["no-vbus"]),
        ([NEW, PASSIVE, 0, 0, 0x10082240], ["voltage-deprecated"]),
        ([NEW, PASSIVE, 0, 0, 0x10082440], ["voltage-deprecated"]),
        ([NEW, PASSIVE, 0, 0, 0x100A2620], ["epr-contradicted"]),
        ([PASSIVE, 0, 0, 0x100A2640], []),
        ([NEW | 0x20], ["reserved-bits", "no-marker"]),
    ],
)
def test_everything_odd_in_its_order(words, told):
    assert [problem.code for problem in read_cable_words(words).problems] == told
