"""Whatever is wrong with an input is an InputError, from every constructor and method, and tells the key."""

from __future__ import annotations

import pickle
from collections.abc import Callable

import pytest
from hypothesis import given
from hypothesis import strategies as st

from pdcheck.errors import InputError
from pdcheck.parts.behaviour import Behaviour, Step
from pdcheck.parts.cable import Cable
from pdcheck.parts.cable_face import Readings, Statement
from pdcheck.parts.converter import Converter
from pdcheck.parts.efficiency import EfficiencyTable
from pdcheck.parts.fields import Part
from pdcheck.parts.kit import Kit
from pdcheck.parts.loads import Load
from pdcheck.parts.loads.led import Led
from pdcheck.parts.rig import Branch, Rig, Tolerance
from pdcheck.parts.source import Source
from pdcheck.parts.trigger import Trigger
from pdcheck.parts.wire import Wire

PARTS: list[type[Part]] = [
    Behaviour, Branch, Cable, Converter, EfficiencyTable, Kit, Led, Load, Readings, Rig, Source, Statement, Step,
    Tolerance, Trigger, Wire,
]  # fmt: skip
KEYS = sorted({key for part in PARTS for name in part.model_fields for key in (name, name.rpartition("_")[0] or name)})
TEXTS = ["15V", "5V 3A", "C-C 5A 1m", "20AWG 0.4m", "buck:6-36V:5A:92%", "5W", "9V-3V", "-2A", "1e999V", "0x0801912C"]
values = st.recursive(
    st.none()
    | st.booleans()
    | st.integers()
    | st.floats()
    | st.text(max_size=12)
    | st.sampled_from(TEXTS)
    | st.binary(),
    lambda inner: st.lists(inner, max_size=3) | st.dictionaries(st.sampled_from(KEYS) | st.text(max_size=4), inner),
    max_leaves=8,
)


@given(st.sampled_from(PARTS), values, st.dictionaries(st.sampled_from(KEYS), values, max_size=4))
def test_garbage_is_an_input_error(part: type[Part], said: object, stated: dict[str, object]) -> None:
    for make in (lambda: part(said, **stated), lambda: part.model_validate(said), lambda: part(**stated)):
        try:
            made = make()
        except InputError as error:
            assert str(error) and "\n" not in str(error)
        else:
            assert part(made.to_dict()) == made


@given(values)
def test_garbage_in_a_change_is_an_input_error(value: object) -> None:
    rig = Rig(trigger="15V", branch=Branch("fan", load="5W"))
    for path in ("fan.load", "fan", "trigger", "branch", "kit", "fan.wire", "tolerance.source", "title"):
        try:
            assert isinstance(rig.replace({path: value}), Rig)
        except InputError as error:
            assert str(error)


TOLD: list[tuple[Callable[[], object], str]] = [
    (lambda: Source(offers="bad"), "offers: line 1, offset 0: an odd number of hex digits in 'bad'"),
    (Rig, "trigger: is missing; expected trigger=..."),
    (lambda: Rig(trigger="15V", brunch=[]), "brunch: unknown key 'brunch'; expected branch"),
    (lambda: Load("xyz"), "'xyz' is not a load; expected a quantity with its unit such as \"2A\", \"24W\""),
    (lambda: Load("24W", power="10W"), "power: is given twice"),
    (lambda: Wire("20AWG"), "'20AWG' has no length"),
    (lambda: Wire(lenght="1m"), "lenght: unknown key 'lenght'; expected length"),
    (lambda: Converter("buck:6-36V:5A:192%", output="12V"), "efficiency: '192%' is out of range"),
    (
        lambda: Rig(trigger="15V", branch=[Branch("a", load="1W"), {"name": "b", "load": {"power": "5V"}}]),
        "branch[1].load.power: '5V' is a voltage, not a power; expected a power such as 24W",
    ),
    (lambda: Cable("C-C loop=3V"), "loop: '3V' is a voltage, not a resistance"),
    (lambda: Cable(id="a", readings={"source": "5V", "sink": "6V", "at": "1A"}), "readings.sink: the sink"),
    (lambda: Kit(source=[Source("5V 3A"), Source("5V 3A")]), "source[1].id: 'source' is the id of another source"),
    (lambda: Trigger("15V").replace(reqest="9V"), "unknown key 'reqest'; expected request"),
    (lambda: setattr(Trigger("15V"), "title", "x"), "a Trigger does not change; expected replace(title=...)"),
    (lambda: Load.model_validate_json("{"), "'{' does not fit: Invalid JSON"),
]  # fmt: skip


@pytest.mark.parametrize(("make", "told"), TOLD, ids=[told[:24] for _, told in TOLD])
def test_what_is_told(make: Callable[[], object], told: str) -> None:
    with pytest.raises(InputError) as caught:
        make()
    assert isinstance(caught.value, ValueError)
    assert told in str(caught.value)
    again = pickle.loads(pickle.dumps(caught.value))
    assert str(again) == str(caught.value)
    assert vars(again) == vars(caught.value)
