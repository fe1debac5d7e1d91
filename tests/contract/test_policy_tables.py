"""The state tables: whole, reachable, with timers of the one table of limits, and as the page prints them."""

from __future__ import annotations

import pytest

from pdcheck.contract.talk.policy import ANY, DIAGRAMS, ENTRY, SENT, TIMEOUT, Policy, conditions
from pdcheck.contract.talk.port import Port
from pdcheck.contract.talk.sink_policy import SINK
from pdcheck.contract.talk.sink_port import SinkPort
from pdcheck.contract.talk.source_policy import SOURCE
from pdcheck.contract.talk.source_port import SourcePort
from pdcheck.facts.timing import TIMERS

SIDES = [(SINK, SinkPort), (SOURCE, SourcePort)]


@pytest.mark.parametrize(("policy", "port"), SIDES)
def test_every_action_and_guard_is_there_to_run(policy: Policy, port: type[Port]) -> None:
    uses = [use for state in policy.states.values() for use in state.timers]
    done = {action for each in (*policy.states.values(), *policy.arrows) for action in each.does}
    assert done == set(port.actions)
    assert {key for each in (*policy.arrows, *uses) for key, _ in conditions(each.guard)} == set(port.guards)
    assert {use.after for use in uses} <= done | {ENTRY, SENT}
    assert {arrow.start for arrow in policy.arrows} <= {*policy.states, ANY}


@pytest.mark.parametrize(("policy", "port"), SIDES)
def test_timers_are_those_of_the_one_table(policy: Policy, port: type[Port]) -> None:
    assert policy.timers() <= set(TIMERS)
    for arrow in policy.arrows:
        if arrow.event.startswith(TIMEOUT):
            name = arrow.event.removeprefix(TIMEOUT)
            assert any(use.name == name for use in policy.states[arrow.start].timers), arrow


@pytest.mark.parametrize(("policy", "port"), SIDES)
def test_a_timer_that_runs_leads_somewhere(policy: Policy, port: type[Port]) -> None:
    # tFirstSourceCap goes on through the states that ask the cable, and is looked at after them.
    passing = {"PE_SRC_VDM_Identity_Request", "PE_SRC_VDM_Identity_ACKed", "PE_SRC_VDM_Identity_NAKed"}
    for state in policy.states.values():
        for use in state.timers:
            if not (use.name == "tFirstSourceCap" and state.name in passing):
                assert policy.arrows_from(state.name, TIMEOUT + use.name), (state.name, use.name)


def reachable(policy: Policy) -> set[str]:
    """The states that some chain of arrows leads to from the first one."""
    found, left = set[str](), [policy.initial]
    while left:
        name = left.pop()
        if name not in found:
            found.add(name)
            left += [arrow.target for arrow in policy.arrows if arrow.start in (name, ANY) and arrow.target]
    return found


@pytest.mark.parametrize(("policy", "port"), SIDES)
def test_arrows_lead_to_every_state_and_on_from_it(policy: Policy, port: type[Port]) -> None:
    assert reachable(policy) == set(policy.states)
    for name in policy.states:
        if name != "PE_SRC_Disabled":
            assert any(arrow.start == name and arrow.target for arrow in policy.arrows), name


@pytest.mark.parametrize(("policy", "port"), SIDES)
def test_names_are_the_standards(policy: Policy, port: type[Port]) -> None:
    prefix = {"sink": "PE_SNK_", "source": "PE_SRC_"}[port.name]
    assert all(name.startswith(prefix) for name in policy.states)
    assert DIAGRAMS.mark == "memory"
