"""How a source says that it behaves: what a file may hold, and what is told of a slip."""

from __future__ import annotations

import pytest

from pdcheck.errors import InputError
from pdcheck.parts.behaviour import ALWAYS, Behaviour
from pdcheck.parts.kit import Kit
from pdcheck.parts.source import Source

HEAD = '[[source]]\nid = "s"\noffers = "5V 3A, 9V 3A, 15V 2A"\n'


def behaviour(line: str) -> Behaviour:
    return Kit.from_toml(f"{HEAD}behaviour = {{ {line} }}\n").sources[0].behaviour


def test_every_key_of_the_table() -> None:
    found = behaviour(
        'revision = "2.0", second_port = "20W", steps_down = [{ at = "2s", to = "5V 2A" }], tells = "hard-reset", '
        'reject = 1, wait = "always", skip_accept = 2, silent = "ps-rdy", ps_rdy = "600ms", hard_reset = "4s", '
        'goto_min = 3, order = [1, 3, 2], epr_entry = "not-now"'
    )
    assert (found.revision, found.tells, found.silent, found.epr_entry) == ("2.0", "hard-reset", "ps-rdy", "not-now")
    assert (found.reject, found.wait, found.skip_accept) == (1, ALWAYS, 2)
    assert (found.ps_rdy_s, found.hard_reset_s, found.goto_min_s) == (0.6, 4.0, 3.0)
    assert found.order == (1, 3, 2)
    assert found.second_port is not None
    assert found.second_port.power_w == 20.0
    assert found.steps_down[0].at_s == 2.0
    assert found.steps_down[0].to.offers[0].current_ma == 2000


def test_a_source_that_says_nothing_behaves() -> None:
    plain = Source(id="s", offers="5V 3A").behaviour
    assert plain == Behaviour()


@pytest.mark.parametrize(
    ("line", "said"),
    [
        ("reject = -1", "line 4: source.behaviour.reject: -1 is no count"),
        ('reject = "often"', "is no count"),
        ("order = [1, 1, 2]", "is no order"),
        ("order = [1, 2]", "an order of 2 positions for 3 offers"),
        ('silent = "all"', "is not a silence"),
        ('second_port = "20V"', "20V has no current"),
        ('steps_down = [{ at = "2V", to = "5W" }]', "source.behaviour.steps_down.at"),
        ('revision = "1.0"', "is no revision of PD"),
        ('ps_rdy = "2 hours"', "source.behaviour.ps_rdy"),
        ("mood = 3", "unknown key 'mood'"),
    ],
)
def test_a_slip_is_told_with_its_place(line: str, said: str) -> None:
    with pytest.raises(InputError) as raised:
        behaviour(line)
    assert said in str(raised.value)


def test_revision_2_has_no_adjustable_offers() -> None:
    text = HEAD.replace("15V 2A", "PPS 3.3-11V 3A") + 'behaviour = { revision = "2.0" }\n'
    with pytest.raises(InputError, match=r"Revision 2\.0 has no pps offer"):
        Kit.from_toml(text)
