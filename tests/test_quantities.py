"""Quantities: what is read, what is refused, and that print and read are each other's inverse."""

from __future__ import annotations

from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from pdcheck.errors import InputError
from pdcheck.quantities import Triple, format_quantity, parse_quantity, parse_range

READ = [
    ("74Wh", "Wh", 74.0),
    ("74 wh", "Wh", 74.0),
    ("1.5kWh", "Wh", 1500.0),
    ("20000mAh", "Ah", 20.0),
    ("20000 mah", "Ah", 20.0),
    ("10,5 Ah", "Ah", 10.5),
    ("8h", "h", 8.0),
    ("1.5 hours", "h", 1.5),
    ("20V", "V", 20.0),
    ("20v", "V", 20.0),
    ("5 volts", "V", 5.0),
    ("3V3", "V", 3.3),
    ("3.25 A", "A", 3.25),
    ("3,25 A", "A", 3.25),
    ("3,25\u202fA", "A", 3.25),
    ("3.01A", "A", 3.01),
    ("500\u00a0mA", "A", 0.5),
    ("500 milliamps", "A", 0.5),
    ("250mΩ", "ohm", 0.25),
    ("250m\u2126", "ohm", 0.25),
    ("250mOhm", "ohm", 0.25),
    ("250 mohm", "ohm", 0.25),
    ("250 milliohms", "ohm", 0.25),
    ("25mR", "ohm", 0.025),
    ("47R", "ohm", 47.0),
    ("4k7", "ohm", 4700.0),
    ("R22", "ohm", 0.22),
    ("1MOhm", "ohm", 1e6),
    ("47uF", "F", 47e-6),
    ("47\u00b5F", "F", 47e-6),
    ("47\u03bcF", "F", 47e-6),
    ("47uf", "F", 47e-6),
    ("100 nF", "F", 1e-7),
    ("0.4m", "m", 0.4),
    ("40cm", "m", 0.4),
    ("400 mm", "m", 0.4),
    ("3ft", "m", 0.9144),
    ("10 in", "m", 0.254),
    ("0,75 mm²", "mm2", 0.75),
    ("0.75mm2", "mm2", 0.75),
    ("92%", "%", 0.92),
    ("0.92", "%", 0.92),
    ("-10 °C", "C", -10.0),
    ("\u221210C", "C", -10.0),
    ("0.3W", "W", 0.3),
    ("1.2 kW", "W", 1200.0),
    ("30ms", "s", 0.03),
    ("+5V", "V", 5.0),
    (".5A", "A", 0.5),
    ("1e-3", "ohm", 1e-3),
    ("-0V", "V", 0.0),
    (15, "V", 15.0),
    (0.92, "%", 0.92),
]

REFUSED = [
    ("74mAh", "Wh", "is a charge, not an energy"),
    ("74Wh", "Ah", "is an energy, not a charge"),
    ("20000MAh", "Ah", "a capital M means a million"),
    ("8W", "h", "is a power, not a number of hours"),
    ("", "V", "nothing is written"),
    ("   ", "V", "nothing is written"),
    ("20A", "V", "a current, not a voltage"),
    ("20 V 3A", "V", "not a unit of voltage"),
    ("20furlongs", "V", "not a unit of voltage"),
    ("3000MA", "A", "capital M"),
    ("MV", "V", "cannot be read"),
    ("twenty", "V", "cannot be read"),
    ("nan", "V", "cannot be read"),
    ("inf V", "V", "cannot be read"),
    (float("nan"), "V", "out of range"),
    (float("inf"), "V", "out of range"),
    (10**400, "V", "out of range"),
    ("1e99V", "V", "out of range"),
    ("1e-30V", "V", "out of range"),
    ("1e300V", "V", "not a unit of voltage"),
    ("-5V", "V", "negative"),
    ("1,500 mA", "A", "for thousands or for decimals"),
    ("1.2.3V", "V", "cannot be read"),
    ("--5V", "V", "cannot be read"),
    ("5" * 5_000_000, "V", "too long"),
    ("٣V", "V", "cannot be read"),
    (True, "V", "not a quantity"),
    (None, "V", "not a quantity"),
]


@pytest.mark.parametrize(("text", "unit", "value"), READ)
def test_reads(text: str, unit: str, value: float) -> None:
    assert parse_quantity(text, unit) == value
    assert str(parse_quantity(text, unit)) != "-0.0"


@pytest.mark.parametrize(("text", "unit", "reason"), REFUSED, ids=lambda x: str(x)[:20])
def test_refuses_and_says_what_was_expected(text: object, unit: str, reason: str) -> None:
    with pytest.raises(InputError) as caught:
        parse_quantity(text, unit)  # type: ignore[arg-type]
    line = str(caught.value)
    assert reason in line
    assert "; expected " in line
    assert len(line) < 200


def test_escapes_what_a_terminal_would_obey() -> None:
    with pytest.raises(InputError) as caught:
        parse_quantity("5\x1b[31mV", "V")
    assert "\x1b" not in str(caught.value)


@given(
    st.integers(0, 10**9),
    st.integers(0, 9),
    st.sampled_from([("", 0), ("m", -3), ("u", -6), ("k", 3)]),
    st.sampled_from([".", ","]),
)
def test_decimal_is_read_to_the_nearest_float(whole: int, places: int, prefix: tuple[str, int], point: str) -> None:
    digits = str(whole).rjust(places + 1, "0")
    text = digits[: len(digits) - places] + (point + digits[len(digits) - places :] if places else "")
    exact = Fraction(whole) / 10**places * Fraction(10) ** prefix[1]
    if exact and not Fraction(1, 10**15) <= exact <= 10**12:
        return
    try:
        assert parse_quantity(f"{text} {prefix[0]}A", "A") == float(exact)
    except InputError as error:
        assert point == "," and "for thousands" in str(error)


UNITS = st.sampled_from(["V", "A", "W", "ohm", "F", "m", "mm2", "s", "C", "K", "%"])


@given(st.floats(1e-12, 1e11), UNITS)
def test_print_at_full_length_reads_back_exactly(value: float, unit: str) -> None:
    assert parse_quantity(format_quantity(value, unit, 17), unit) == value


@given(st.floats(1e-9, 1e9), UNITS, st.integers(3, 8))
def test_print_is_within_half_of_its_last_digit(value: float, unit: str, digits: int) -> None:
    assert parse_quantity(format_quantity(value, unit, digits), unit) == pytest.approx(
        value, rel=0.51 * 10 ** (1 - digits)
    )


@given(st.floats(0.001, 1000), st.floats(-1e-6, 1e-6))
def test_a_violation_is_never_rounded_away(limit: float, excess: float) -> None:
    value = limit * (1 + excess)
    shown = parse_quantity(format_quantity(value, "A", beside=limit), "A")
    beside = parse_quantity(format_quantity(limit, "A", beside=value), "A")
    assert (shown > beside, shown < beside) == (value > limit, value < limit)


@given(st.text(max_size=60), UNITS)
def test_any_text_is_a_number_or_an_input_error(text: str, unit: str) -> None:
    for read in (lambda: parse_quantity(text, unit), lambda: parse_range(text, unit)):
        try:
            read()
        except InputError as error:
            assert "\n" not in str(error)


@pytest.mark.parametrize(
    ("value", "unit", "text"),
    [
        (3.01, "A", "3.01 A"),
        (0.999996, "A", "1 A"),
        (0.0, "V", "0 V"),
        (-0.00000001, "C", "-0.00000001 °C"),
        (240, "W", "240 W"),
        (1234.5, "W", "1.234 kW"),
        (20000, "V", "20000 V"),
        (0.000025, "V", "0.025 mV"),
        (0.75, "mm2", "0.75 mm²"),
        (float("inf"), "A", "inf A"),
    ],
)
def test_prints(value: float, unit: str, text: str) -> None:
    assert format_quantity(value, unit) == text


@pytest.mark.parametrize(
    ("text", "unit", "ends"),
    [
        ("6V-36V", "V", (6.0, 36.0)),
        ("6-36V", "V", (6.0, 36.0)),
        ("6..36 V", "V", (6.0, 36.0)),
        ("6\u201336 V", "V", (6.0, 36.0)),
        ("6 V to 36 V", "V", (6.0, 36.0)),
        ("3,3-21V", "V", (3.3, 21.0)),
        ("4.5...36", "V", (4.5, 36.0)),
        ("500-900mA", "A", (0.5, 0.9)),
        ("500mA-3A", "A", (0.5, 3.0)),
        ("-10C..40C", "C", (-10.0, 40.0)),
        ("12V-12V", "V", (12.0, 12.0)),
    ],
)
def test_reads_ranges(text: str, unit: str, ends: tuple[float, float]) -> None:
    assert parse_range(text, unit) == ends


@pytest.mark.parametrize("text", ["", "6V", "36V-6V", "6A-36A", "6-", "-", "6-36-40V", "6 36 V", "1" * 10_000])
def test_refuses_ranges(text: str) -> None:
    with pytest.raises(InputError, match="expected"):
        try:
            parse_range(text, "V")
        except InputError as error:
            raise InputError(str(error)) from error


def test_triple_of_an_exact_value() -> None:
    assert Triple.exact(0.25) == (0.25, 0.25, 0.25)
