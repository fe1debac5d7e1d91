"""Settings of a trigger tried on a kit: which there are, on how much of it each works, and which is best."""

import pytest

from pdcheck.parts.kit import Kit
from pdcheck.parts.request import FixedRequest, HighestRequest
from pdcheck.parts.rig import Rig
from pdcheck.parts.source import Source
from pdcheck.verdict.settings import best_setting, settings_of, try_on

KIT = Kit.model_validate(
    {
        "source": [
            {"id": "a", "offers": "5V 3A, 9V 3A; PPS 3.3-11V 3A"},
            {"id": "b", "offers": "5V 3A, 9V 3A, 15V 3A, 20V 3A"},
        ],
        "cable": [{"id": "x", "kind": "C-C", "loop": "100mOhm"}],
    }
)


def lamp(request, volts, **more):
    load = {"current": "1A", "voltage": volts}
    return Rig.model_validate({"trigger": {"request": request, **more}, "branch": [{"name": "lamp", "load": load}]})


def tried_on(rig, requests=None):
    return try_on(rig, list(KIT.pairs()), settings_of(KIT.sources) if requests is None else requests)


def tried(rig, requests=None):
    return [(each.request, list(each.verdicts), each.works, each.unsafe) for each in tried_on(rig, requests)]


def test_what_can_be_set():
    fixed = [FixedRequest(volts) for volts in (5.0, 9.0, 15.0, 20.0)]
    assert settings_of(KIT.sources) == [*fixed, HighestRequest()]
    assert settings_of([Source("5V 3A; PPS 3.3-11V 3A")]) == [
        FixedRequest(5.0), HighestRequest(),
    ]  # fmt: skip


def test_a_gap_in_a_list_is_no_voltage():
    gap = Source("0x0801912C 0x00000000 0x0002D12C")
    assert settings_of([gap]) == [FixedRequest(5.0), FixedRequest(9.0), HighestRequest()]


def test_each_setting_on_each_pair():
    rig = lamp("20V", "8V-10V")
    assert tried(rig) == [
        (FixedRequest(5.0), ["fails", "fails"], 0, 0),
        (FixedRequest(9.0), ["runs", "runs"], 2, 0),
        (FixedRequest(15.0), ["limited", "unsafe"], 1, 1),
        (FixedRequest(20.0), ["limited", "unsafe"], 1, 1),
        (HighestRequest(), ["runs", "unsafe"], 1, 1),
    ]
    assert tried(rig, [FixedRequest(9.0)]) == [(FixedRequest(9.0), ["runs", "runs"], 2, 0)]
    assert tried(rig, []) == []
    assert rig.trigger.request == FixedRequest(20.0)


def test_the_rest_of_the_rig_stays_as_it_is():
    [setting] = tried_on(lamp("9V", "8V-10V", rating="5A", fallback="none"), iter([FixedRequest(15.0)]))
    assert (setting.request, setting.verdicts, setting.works) == (FixedRequest(15.0), ("fails", "unsafe"), 0)
    # With its own fall-back it takes 9 V of the first, where it has no 15 V.
    [lower] = tried_on(lamp("9V", "8V-10V", rating="5A"), iter([FixedRequest(15.0)]))
    assert lower.verdicts == ("limited", "unsafe")


@pytest.mark.parametrize(
    ("volts", "best"),
    [("8V-10V", FixedRequest(9.0)), ("4V-6V", FixedRequest(5.0)), ("4V-25V", FixedRequest(5.0))],
)
def test_the_best_is_safe_everywhere_and_the_first_of_equals(volts, best):
    assert best_setting(lamp("20V", volts), KIT).request == best


def test_no_setting_is_safe_where_even_five_volts_are_too_much():
    assert best_setting(lamp("20V", "1V-3V"), KIT) is None
