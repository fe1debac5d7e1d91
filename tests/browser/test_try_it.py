"""Trying on the page: every position says what ``check`` says of the same build, and all of it goes by keyboard."""

import json
import random
import tomllib

import pytest

from pdcheck.parts.rig import Rig
from pdcheck.quantities import Triple, format_quantity
from pdcheck.show.figures import shown
from tests.browser.conftest import DATA, made
from tests.conftest import call
from tests.show import page_reader

KIT = DATA / "kit.toml"
# What each load of the rigs is in its file, as a number with its unit, and whether more of it is more load.
STATED = {
    "pier-box": {"mount": ("power", 18, "W", True), "dew-heater": ("resistance", 36, "ohm", False)},
    "pedalboard": {"analog": ("current", 350, "mA", True), "digital": ("current", 700, "mA", True)},
    "field-sensor": {"radio": ("power", 2, "W", True), "rain-gauge": ("power", 28, "W", True), "marker": None},
}
CHOOSE = """([charger, cable, set, loads]) => {
    const form = document.getElementById('try-form'), { charger: one, cable: two, set: three } = form.elements
    const move = (field, act) => { act(field); field.dispatchEvent(new Event('input', { bubbles: true })) }
    form.reset()
    move(one, field => { field.selectedIndex = charger % field.length })
    move(two, field => { field.selectedIndex = cable % field.length })
    move(three, field => { field.selectedIndex = set % field.length })
    const ons = form.querySelectorAll('input[type=checkbox]'), ranges = form.querySelectorAll('input[type=range]')
    loads.forEach((share, at) => {
        if (share === null) move(ons[at], field => { field.checked = false })
        else move(ranges[at], field => { field.value = share })
    })
}"""
SEEN = """() => {
    const form = document.getElementById('try-form'), { charger, cable, set } = form.elements
    const ranges = [...form.querySelectorAll('input[type=range]')]
    const text = id => document.getElementById(id).textContent
    const listed = id => [...document.getElementById(id).children]
        .map(each => [each.className, each.dataset.rule, each.textContent])
    return {
        charger: charger.value, cable: cable.value, set: set.value,
        verdict: document.getElementById('try-answer').dataset.verdict,
        loads: [...form.querySelectorAll('input[type=checkbox]')]
            .map((each, at) => each.checked ? Number(ranges[at].value) : null),
        words: text('try-verdict'), contract: text('try-contract'),
        found: [...listed('try-found'), ...listed('try-notes')],
        figures: Object.fromEntries([...document.querySelectorAll('#try figure.slim text[data-slot]')]
            .map(each => [each.dataset.slot, each.textContent])),
    }
}"""


@pytest.fixture(scope="session")
def tried(tmp_path_factory, browser):
    """Pages of the three rigs, on which positions are tried, by name."""
    return {name: made(tmp_path_factory.mktemp(name), DATA / f"{name}.toml", "--kit", KIT) for name in STATED}


@pytest.fixture
def opened(browser):
    context = browser.new_context(viewport={"width": 380, "height": 800})
    said = []

    def open_page(path, fragment=""):
        page = context.new_page()
        page.on("console", lambda message: said.append(message.text))
        page.on("pageerror", lambda error: said.append(str(error)))
        page.goto(path.as_uri() + fragment)
        return page

    yield open_page
    context.close()
    assert said == []


def changed(name, seen):
    """The rig's file with what was chosen written into it by hand, as a maker would."""
    data = tomllib.loads((DATA / f"{name}.toml").read_text(encoding="utf-8"))
    data["trigger"]["request"] = seen["set"]
    branches = []
    for branch, share in zip(data["branch"], seen["loads"], strict=True):
        if share is None:
            continue
        times = share / 100 or 1e-7
        stated = STATED[name][branch["name"]]
        if share != 100 and stated is None:
            branch["load"]["led"]["current"] = f"{120 * times}mA"
        elif share != 100:
            key, figure, unit, more = stated
            branch["load"] = {key: f"{figure * times if more else figure / times}{unit}"}
        branches.append(branch)
    return Rig.model_validate(data | {"branch": branches})


@pytest.mark.parametrize("name", STATED)
def test_a_position_says_what_check_says(opened, tried, tmp_path, name):
    page = opened(tried[name])
    chance = random.Random()
    state = chance.getstate()
    steps = json.loads(page.get_attribute("#try-form", "data-steps"))
    for _ in range(40):
        loads = [chance.choice([None, *steps]) for _ in STATED[name]]
        page.evaluate(CHOOSE, [chance.randrange(99), chance.randrange(99), chance.randrange(99), loads])
        seen = page.evaluate(SEEN)
        path = tmp_path / "changed.toml"
        path.write_text(changed(name, seen).to_toml(), encoding="utf-8")
        options = ("--kit", KIT, "--source", seen["charger"], "--cable", seen["cable"])
        document = page_reader.alone(call("check", path, *options, "--json").json)
        told = (seen["charger"], seen["cable"], seen["set"], seen["loads"], state[1][:3])
        assert seen["verdict"] == document["verdict"], told
        assert seen["words"].startswith(f"{document['verdict']}: ")
        assert [each[:2] for each in seen["found"]] == [[each["level"], each["rule"]] for each in document["findings"]]
        for (_, _, text), finding in zip(seen["found"], document["findings"], strict=True):
            assert f"{finding['level']}: {finding['subject']} {finding['text']}." in text, told
            assert (finding["advice"] in text) or finding["level"] == "note"
        for node in document["nodes"]:
            if node["node"] == "bus":
                assert seen["figures"]["bus.range"] == f"bus {shown(Triple(**node['voltage_v']), 'V')}", told
        for loss in document["losses"]:
            text = seen["figures"].get(f"{loss['part']}.w", "")
            if text and loss["loss_w"]["typ"] >= 1e-5:
                # Either where it lies halfway between two figures.
                ends = (loss["loss_w"]["typ"] * (1 - 1e-9), loss["loss_w"]["typ"] * (1 + 1e-9))
                assert text.endswith(tuple(f"loses {format_quantity(each, 'W', 2)}" for each in ends)), told


def test_what_is_chosen_stands_in_the_address_and_can_be_sent(opened, tried):
    page = opened(tried["pier-box"])
    page.evaluate(CHOOSE, [2, 1, 3, [50, None]])
    seen, place = page.evaluate(SEEN), page.evaluate("location.hash")
    assert place.startswith("#try?") and "load.dew-heater=off" in place and "load.mount=50" in place
    page.reload()
    assert page.evaluate(SEEN) == seen
    other = opened(tried["pier-box"], place)
    assert other.evaluate(SEEN) == seen
    assert other.locator("#try-more").get_attribute("open") is not None
    other.click("button[type=reset]")
    assert other.evaluate("location.hash") == "#try"
    assert other.evaluate(SEEN)["loads"] == [100, 100]


def test_nonsense_in_the_address_does_no_harm(opened, tried):
    page = opened(
        tried["pier-box"], "#try?charger=none&cable=%3Cb%3E&set=7+V&load.mount=42&load.dew-heater=off&load.x=1"
    )
    seen = page.evaluate(SEEN)
    assert seen["loads"] == [100, None] and seen["verdict"] in ("runs", "limited", "fails", "unsafe")


def test_by_keyboard_alone_and_said_aloud(opened, tried):
    page = opened(tried["pier-box"])
    page.focus("#try summary")
    page.keyboard.press("Enter")
    page.keyboard.press("Tab")
    assert page.evaluate("document.activeElement.name") == "charger"
    for _ in range(4):
        page.keyboard.press("Tab")
    assert page.evaluate("document.activeElement.type") == "range"
    page.keyboard.press("End")
    assert page.evaluate("document.activeElement.getAttribute('aria-valuetext')") == "150 %: 27 W"
    assert page.evaluate("document.getElementById('try-answer').getAttribute('role')") == "status"
    page.keyboard.press("Shift+Tab")
    page.keyboard.press("Space")
    assert page.evaluate(SEEN)["loads"] == [None, 100]
    # The last branch that is connected stays so, and it is said why.
    page.evaluate("document.querySelectorAll('#try-form input[type=checkbox]')[1].click()")
    assert page.evaluate(SEEN)["loads"] == [None, 100]
    assert page.text_content("#try-note") == "One branch at least stays connected."


def test_without_script_all_else_is_there_and_it_is_said(browser, tried):
    context = browser.new_context(java_script_enabled=False)
    page = context.new_page()
    page.goto(tried["pier-box"].as_uri())
    page.locator("#try summary").first.click()
    assert page.locator("#try .scriptless").is_visible()
    assert not page.locator("#try-form").is_visible()
    assert page.locator("#chain svg").first.is_visible()
    context.close()


def test_the_table_is_small(tried):
    for path in tried.values():
        root = page_reader.read(path.read_text(encoding="utf-8"))
        assert len("".join(root.one("script", id="pdcheck-try").raw())) < 900_000


def test_a_large_kit_is_tried_around_the_pair_of_the_page(opened, big_page, tmp_path):
    page = opened(big_page)
    own = page.evaluate(SEEN)
    chance, moved = random.Random(), 0
    for _ in range(10):
        page.evaluate(CHOOSE, [chance.randrange(99), chance.randrange(99), chance.randrange(9), [100, 100]])
        seen = page.evaluate(SEEN)
        assert seen["charger"] == own["charger"] or seen["cable"] == own["cable"]
        moved += (seen["charger"], seen["cable"]) != (own["charger"], own["cable"])
        path = tmp_path / "changed.toml"
        path.write_text(changed("pier-box", seen).to_toml(), encoding="utf-8")
        options = ("--kit", big_page.parent / "kit.toml", "--source", seen["charger"], "--cable", seen["cable"])
        document = page_reader.alone(call("check", path, *options, "--json").json)
        assert seen["verdict"] == document["verdict"], seen
        assert [each[1] for each in seen["found"]] == [each["rule"] for each in document["findings"]]
    assert moved
