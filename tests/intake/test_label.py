"""Labels as printers set them: the same charger in many hands, other chargers, and what is no label."""

import pytest

from pdcheck.errors import InputError
from pdcheck.intake.label import looks_like_label, read_label

# Text; then (V, A) of a fixed offer, or (kind, V, V, A), in the order of a source's list.
LABELS = [
    ("5V⎓3A, 9V⎓3A / 15V=3A 20V 3.25A; PPS 3.3-11V 3A", [(5, 3), (9, 3), (15, 3), (20, 3.25), ("pps", 3.3, 11, 3)]),
    ("5V 3A, 9V 3A, 15V 3A; PPS 3.3-16V 3A", [(5, 3), (9, 3), (15, 3), ("pps", 3.3, 16, 3)]),
    ("5V=3A 9V=2A 12V=1.5A", [(5, 3), (9, 2), (12, 1.5)]),
    ("DC 5V 3A 9V 3A", [(5, 3), (9, 3)]),
    ("Output: 5.0V⎓3.0A, 9.0V⎓3.0A", [(5, 3), (9, 3)]),
    ("OUTPUT: 5V---3A; 9V---2.77A", [(5, 3), (9, 2.77)]),
    ("5V⎓3A\n9V⎓3A\n15V⎓3A\n20V⎓5A (100W Max)", [(5, 3), (9, 3), (15, 3), (20, 5)]),
    ("5 V / 3 A | 9 V / 3 A | 15 V / 3 A | 20 V / 2.25 A", [(5, 3), (9, 3), (15, 3), (20, 2.25)]),
    ("3A@5V, 2A@9V", [(5, 3), (9, 2)]),
    ("3A 5V / 3A 9V / 3A 15V / 2.25A 20V", [(5, 3), (9, 3), (15, 3), (20, 2.25)]),
    ("5V/3A 9V/3A 12V/2.5A 15V/2A 20V/1.5A", [(5, 3), (9, 3), (12, 2.5), (15, 2), (20, 1.5)]),
    ("5V,3A 9V,3A", [(5, 3), (9, 3)]),
    ("5V-3A 9V-3A 20V-3.25A", [(5, 3), (9, 3), (20, 3.25)]),
    ("5V–3A, 9V–3A", [(5, 3), (9, 3)]),
    ("5V — 3A • 9V — 3A", [(5, 3), (9, 3)]),
    ("５Ｖ⎓３Ａ\u3000９Ｖ⎓３Ａ", [(5, 3), (9, 3)]),
    ("5V⎓3000mA, 9V⎓2220mA", [(5, 3), (9, 2.22)]),
    ("5V⎓3,000mA, 9V⎓2,220mA", [(5, 3), (9, 2.22)]),
    ("5V⎓3.000mA, 9V⎓2.220mA", [(5, 3), (9, 2.22)]),
    ("5V 3 000 mA", [(5, 3)]),
    ("5,0 V ⎓ 3,0 A; 9,0 V ⎓ 2,22 A", [(5, 3), (9, 2.22)]),
    ("5V/9V/15V 3A, 20V 2.25A", [(5, 3), (9, 3), (15, 3), (20, 2.25)]),
    ("5V, 9V, 15V: 3A; 20V: 5A", [(5, 3), (9, 3), (15, 3), (20, 5)]),
    (
        "PDO: 5V/3A, 9V/3A, 15V/3A, 20V/5A; PPS: 3.3-11V/5A, 3.3-21V/5A",
        [(5, 3), (9, 3), (15, 3), (20, 5), ("pps", 3.3, 11, 5), ("pps", 3.3, 21, 5)],
    ),
    ("PD: 5V⎓3A 9V⎓3A PPS: 3.3V–11V⎓3A", [(5, 3), (9, 3), ("pps", 3.3, 11, 3)]),
    ("5V⎓3A,9V⎓3A,15V⎓3A,20V⎓5A,3.3-21V⎓5A", [(5, 3), (9, 3), (15, 3), (20, 5), ("pps", 3.3, 21, 5)]),
    (
        "5V⎓3A / 9V⎓2.22A / (PPS) 3.3-5.9V⎓3A / 3.3-11V⎓2.25A",
        [(5, 3), (9, 2.22), ("pps", 3.3, 5.9, 3), ("pps", 3.3, 11, 2.25)],
    ),
    ("3.3–16V⎓3A (PPS), 5V⎓3A", [(5, 3), ("pps", 3.3, 16, 3)]),
    ("3.3V-16V/3A PPS", [("pps", 3.3, 16, 3)]),
    ("5V 3A, 9V 3A, 3.3~11V 3A (PPS)", [(5, 3), (9, 3), ("pps", 3.3, 11, 3)]),
    ("PPS 3.3V to 21V 5A", [("pps", 3.3, 21, 5)]),
    ("PPS1 3.3-11V 3A PPS2 3.3-16V 2A", [("pps", 3.3, 11, 3), ("pps", 3.3, 16, 2)]),
    (
        "INPUT: 100-240V~50/60Hz 1.5A OUTPUT: 5V⎓3A 9V⎓3A 15V⎓3A 20V⎓3.25A 65W MAX",
        [(5, 3), (9, 3), (15, 3), (20, 3.25)],
    ),
    ("Input: AC 100-240V, 50/60Hz, 0.8A Max\nOutput: DC 5V/3A, 9V/2.22A", [(5, 3), (9, 2.22)]),
    ("I/P: 100-240V~ 50-60Hz 0.6A\nO/P: 5V⎓3A, 9V⎓2.22A", [(5, 3), (9, 2.22)]),
    ("100-240V~ 50/60Hz 1.7A  5V⎓3A", [(5, 3)]),
    ("输入：100-240V~50/60Hz 0.6A 输出：5V⎓3A 9V⎓2.22A", [(5, 3), (9, 2.22)]),
    ("Eingang: 100-240 V~, 50/60 Hz, 0,6 A; Ausgang: 5,0 V 3,0 A; 9,0 V 2,22 A", [(5, 3), (9, 2.22)]),
    ("Entrée: 100-240V~ 0,6A Sortie: 5V 3A, 9V 2A", [(5, 3), (9, 2)]),
    ("USB-C1: 5V⎓3A 9V⎓3A USB-A: 5V⎓2.4A", [(5, 3), (9, 3)]),
    ("USB-C Output: 5V⎓3A, 9V⎓3A, 20V⎓3.25A\nUSB-A Output: 5V⎓3A, 9V⎓2A, 12V⎓1.5A", [(5, 3), (9, 3), (20, 3.25)]),
    ("C1/C2: 5V=3A 9V=3A 15V=3A 20V=5A 100W Max A: 4.5V=5A 5V=4.5A", [(5, 3), (9, 3), (15, 3), (20, 5)]),
    ("USB-C1 5V⎓3A, 20V⎓5A; USB-C2 5V⎓3A, 9V⎓3A; USB-C1+C2 65W+30W", [(5, 3), (20, 5)]),
    ("Total output: 65W Max. 5V 3A 9V 3A", [(5, 3), (9, 3)]),
    ("5V⎓3A (15W) 9V⎓3A (27W) 15V⎓3A (45W) 20V⎓3.25A (65W)", [(5, 3), (9, 3), (15, 3), (20, 3.25)]),
    ("5.0V 3.0A 15.0W / 9.0V 3.0A 27.0W", [(5, 3), (9, 3)]),
    ("5V⎓3A max, 9V⎓3A max.", [(5, 3), (9, 3)]),
    ("5VDC 3A, 9VDC 3A", [(5, 3), (9, 3)]),
    ("+5V 3A +9V 2A", [(5, 3), (9, 2)]),
    ("5 Volts 3 Amps, 9 volts 2 amps", [(5, 3), (9, 2)]),
    ("5v3a 9v3a 15v3a", [(5, 3), (9, 3), (15, 3)]),
    ("5V3A/9V3A/15V3A/20V2.25A", [(5, 3), (9, 3), (15, 3), (20, 2.25)]),
    ("5V⎓3A,9V⎓3A,15V⎓3A,20V⎓2.25A", [(5, 3), (9, 3), (15, 3), (20, 2.25)]),
    ("5V⎓ 3A | 9V⎓ 3A | 28V⎓ 5A", [(5, 3), (9, 3), (28, 5)]),
    (
        "5V 3A, 9V 3A, 15V 3A, 20V 5A, 28V 5A; AVS 15-28V 140W",
        [(5, 3), (9, 3), (15, 3), (20, 5), (28, 5), ("epr-avs", 15, 28, None)],
    ),
    (
        "5V3A 9V3A 15V3A 20V5A 28V5A 36V5A 48V5A EPR AVS 15-48V 240W",
        [(5, 3), (9, 3), (15, 3), (20, 5), (28, 5), (36, 5), (48, 5), ("epr-avs", 15, 48, None)],
    ),
    ("5V⎓2.4A", [(5, 2.4)]),
    ("5V⎓3A\r\n9V⎓3A\r\n", [(5, 3), (9, 3)]),
    ("5V\t3A\n9V\t3A", [(5, 3), (9, 3)]),
    ("5V:3A;9V:3A", [(5, 3), (9, 3)]),
    ("5V @ 3A, 9V @ 3A", [(5, 3), (9, 3)]),
    ("5V x 3A", [(5, 3)]),
    ("5V·3A", [(5, 3)]),
    ("5V ═ 3A", [(5, 3)]),
    ("5V ⎓⎓⎓ 3A", [(5, 3)]),
    ("5V _ _ _ 3A", [(5, 3)]),
    ("5V⎓ 3A", [(5, 3)]),
    ("5V ⏛ 3A", [(5, 3)]),
    ("5V ＝ 3A", [(5, 3)]),
    ("5V ⎓ 3A or 9V ⎓ 3A or 20V ⎓ 2.25A", [(5, 3), (9, 3), (20, 2.25)]),
    ("5V 3A and 9V 2A", [(5, 3), (9, 2)]),
    ("USB PD 3.0 45W: 5V/3A 9V/3A 15V/3A", [(5, 3), (9, 3), (15, 3)]),
    ("Model: XY-65 Output 5V 3A 9V 3A", [(5, 3), (9, 3)]),
    ("Type-C 5V 3A", [(5, 3)]),
    ("20V 2.25A, 15V 3A, 9V 3A, 5V 3A", [(5, 3), (9, 3), (15, 3), (20, 2.25)]),
    ("5V⎓3A/9V⎓3A/15V⎓3A/20V⎓3A 60.0W", [(5, 3), (9, 3), (15, 3), (20, 3)]),
    ("3A⎓5V, 3A⎓9V", [(5, 3), (9, 3)]),
    ("5V max 3A", [(5, 3)]),
    ("(5V, 3A), (9V, 3A)", [(5, 3), (9, 3)]),
    ("5V:3000 mA", [(5, 3)]),
    ("5V⎓3A 9V⎓2.22A QC 18W", [(5, 3), (9, 2.22)]),
    ("5 V ⎓ 3 A\n9 V ⎓ 3 A\n12 V ⎓ 2,25 A", [(5, 3), (9, 3), (12, 2.25)]),
    ("5V⎓0.5A", [(5, 0.5)]),
    ("5V⎓.9A", [(5, 0.9)]),
    ("5V 900mA", [(5, 0.9)]),
    ("5.1V 3A", [(5.1, 3)]),
    ("20.0V 3.25A", [(20, 3.25)]),
    ("5V3A;9V3A;15V3A;20V3.25A;PPS:5-11V3A", [(5, 3), (9, 3), (15, 3), (20, 3.25), ("pps", 5, 11, 3)]),
    ("5V⎓3A 9V⎓3A PPS 5V-11V⎓3A / 5V-16V⎓2.25A", [(5, 3), (9, 3), ("pps", 5, 11, 3), ("pps", 5, 16, 2.25)]),
    ("PPS: 3.3 – 11 V ⎓ 3 A", [("pps", 3.3, 11, 3)]),
    ("PPS (3.3V-11V) 3A", [("pps", 3.3, 11, 3)]),
]


def figures(offer):
    if offer.kind == "fixed":
        return (offer.max_mv / 1000, offer.current_ma / 1000)
    current = None if offer.current_ma is None else offer.current_ma / 1000
    return (offer.kind, offer.min_mv / 1000, offer.max_mv / 1000, current)


@pytest.mark.parametrize(("text", "expected"), LABELS, ids=[ascii(text)[:50] for text, _ in LABELS])
def test_labels(text, expected):
    assert looks_like_label(text)
    label = read_label(text)
    assert [figures(offer) for offer in label.offers] == expected
    plain = [offer.position for offer in label.offers if not offer.is_epr]
    assert plain == list(range(1, len(plain) + 1))
    # What needs EPR stands from position 8 on, whatever is before it.
    assert all(offer.position >= 8 for offer in label.offers if offer.is_epr)


UNITS = ["V", " V", "v", "VDC", " V DC"]
DASHES = ["⎓", " ⎓ ", "=", "/", " ", "-", "–", " @ ", "---", "═", ":", ","]
BREAKS = [", ", " / ", "\n", "; ", " | ", "  ", " • "]


@pytest.mark.parametrize("dash", DASHES)
@pytest.mark.parametrize("pause", BREAKS, ids=ascii)
@pytest.mark.parametrize("unit", UNITS)
def test_every_way_to_join_a_pair_and_to_part_two(unit, dash, pause):
    text = pause.join(f"{volts}{unit}{dash}{amps}A" for volts, amps in (("5", "3"), ("9.0", "3.0"), ("20", "2.25")))
    assert [figures(offer) for offer in read_label(text).offers] == [(5, 3), (9, 3), (20, 2.25)]
    turned = pause.join(f"{amps}A{dash}{volts}{unit}" for volts, amps in (("5", "3"), ("9.0", "3.0"), ("20", "2.25")))
    assert [figures(offer) for offer in read_label(turned).offers] == [(5, 3), (9, 3), (20, 2.25)]


def test_ports_are_kept_apart():
    label = read_label("USB-C1: 5V3A 9V3A 15V3A 20V5A  USB-C2: 5V3A 9V3A 20V2.25A  USB-A: 5V2.4A")
    assert [figures(offer) for offer in label.offers] == [(5, 3), (9, 3), (15, 3), (20, 5)]
    assert any("USB-C1" in remark for remark in label.remarks)
    assert any("Type-A" in remark for remark in label.remarks)


def test_two_ports_of_one_list():
    label = read_label("C1: 5V 3A, 9V 3A\nC2: 5V 3A, 9V 3A")
    assert [figures(offer) for offer in label.offers] == [(5, 3), (9, 3)]


def test_the_printed_power():
    assert read_label("5V⎓3A, 20V⎓3.25A (65W Max)").power_w == 65
    assert read_label("5V 3A").power_w is None


def test_adjustable_voltage_supplies():
    spr = read_label("5V 3A, 9V 3A, 15V 3A, 20V 2.25A, AVS 9-20V 3A/2.25A").offers[-1]
    assert (spr.kind, spr.current_15v_ma, spr.current_20v_ma) == ("spr-avs", 3000, 2250)
    epr = read_label("5V 3A, 20V 5A, 28V 5A; AVS 15-28V 140W").offers[-1]
    assert (epr.kind, epr.min_mv, epr.max_mv, epr.pdp_w, epr.position) == ("epr-avs", 15000, 28000, 140, 9)


def test_a_current_between_the_steps_of_an_object_is_never_read_as_more():
    pps = read_label("5V 3A, PPS 3.3-11V 2.22A").offers[-1]
    assert pps.current_ma == 2200


def test_ranges_of_other_protocols_are_no_programmable_supplies():
    label = read_label("3.6-6.5V⎓3A, 6.5-9V⎓2A; 5V⎓3A, 9V⎓2A")
    assert [figures(offer) for offer in label.offers] == [(5, 3), (9, 2)]
    assert len(label.remarks) == 2


# Text, and the offset in bytes of what is wrong, on line 1 unless said.
NONSENSE = [
    ("5V", 0),
    ("5V 3", 3),
    ("5V 3A 9V", 6),
    ("5V 3A 3A", 6),
    ("0V 3A", 0),
    ("999V 3A", None),
    ("5V 99A", 0),
    ("5.123V 3A", 0),
    ("1e3V 3A", 0),
    ("5.5.5V 3A", 0),
    ("12345V 3A", 0),
    ("5V 12345678mA", 3),
    ("5VV 3A", 0),
    ("abc 5V def", 4),
    ("21-5V 3A", 0),
    ("5V 3A; PPS 3.3-11V", 11),
    ("5V 3A, 9V 3B", 10),
    ("5V\u00b3 3A", 2),
    ("\U0001f4a15V\U0001f4a1", 0),
    ("5V 3A \x1b[31m", 6),
    ("5V⎓3A \x07", 8),
    ("3A 5V 9V 2A", 9),
    ("５Ｖ⎓３Ａ \x07", 16),
]


@pytest.mark.parametrize(("text", "offset"), NONSENSE, ids=[ascii(text) for text, _ in NONSENSE])
def test_nonsense_is_refused_with_its_place(text, offset):
    with pytest.raises(InputError) as caught:
        read_label(text)
    if offset is not None:
        assert caught.value.where == f"line 1, offset {offset}"
    assert "\n" not in str(caught.value)


def test_the_line_of_a_mistake():
    with pytest.raises(InputError) as caught:
        read_label("5V 3A\n9V 3A\nµ 15V ?")
    assert caught.value.where == "line 3, offset 7"


def test_no_label_is_that_long():
    with pytest.raises(InputError, match="characters"):
        read_label("5V 3A, " * 1000)


@pytest.mark.parametrize("text", ["a1 61", "0x0801912C", "", "hello", "41 04 16 1c"])
def test_hex_is_no_label(text):
    assert not looks_like_label(text)
