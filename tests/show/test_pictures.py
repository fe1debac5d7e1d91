"""Pictures: nothing lies on anything else or off the sheet at any number of branches; figures are those of the sums."""

from __future__ import annotations

import itertools
import math
import re
from typing import Any, get_args
from xml.etree import ElementTree

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from pdcheck.errors import InputError
from pdcheck.parts.cable import Cable
from pdcheck.parts.rig import Rig
from pdcheck.parts.source import Source
from pdcheck.show.pictures import PictureName
from pdcheck.show.pictures.painted import painted
from pdcheck.show.pictures.picture import picture
from pdcheck.show.pictures.shapes import SMALL, Area, Frame, Label, Picture, Stroke, width_of
from pdcheck.show.pictures.voltage_picture import places
from pdcheck.show.pictures.watts_picture import flows
from pdcheck.verdict.drawn import Drawn, drawn
from pdcheck.verdict.judge import judge

CABLE = Cable(id="c", kind="C-C", rating="5A", loop="120mOhm")
BOX = {
    "kind": "buck-boost",
    "input": "6V-18V",
    "output": "12V",
    "efficiency": 0.9,
    "idle": "0.1W",
    "output_limit": "2A",
}
BRANCHES: list[dict[str, Any]] = [
    {"wire": "22AWG 0.5m", "converter": BOX, "lead": "24AWG 1m", "load": "8W"},
    {"wire": "0.75mm2 1.2m", "load": {"resistance": "36ohm", "power": "6W"}},
    {"converter": BOX, "load": {"current": "0.4A"}},
    {"load": {"power": "2W", "voltage": "8V-24V"}},
    {"wire": "22AWG 0.5m", "lead": "24AWG 1m", "load": {"power": "1W", "voltage": "3V-5V"}},
]
NAMES = st.text(st.characters(categories=("Lu", "Ll", "Nd")), min_size=1, max_size=14)


def of(rig: Rig, offers: str = "5V 3A, 9V 3A, 15V 3A, 20V 5A") -> Drawn:
    return drawn(judge(rig, Source(id="wall-100", offers=offers), CABLE))


@st.composite
def drawings(draw: st.DrawFn) -> Drawn:
    chosen = draw(st.lists(st.sampled_from(BRANCHES), min_size=1, max_size=8))
    branches = [{"name": f"{draw(NAMES)}-{at}", **each} for at, each in enumerate(chosen)]
    title = draw(st.text(st.characters(categories=("Lu", "Ll", "Nd", "Zs")), max_size=60))
    return of(Rig(title=title, trigger=draw(st.sampled_from(("5V", "9V", "12V", "15V", "20V"))), branch=branches))


def box(label: Label) -> tuple[float, float, float, float]:
    width = width_of(label.text, label.size, bold=label.bold)
    left = label.x - {"start": 0.0, "middle": 0.5, "end": 1.0}[label.anchor] * width
    return left, label.y - 0.75 * label.size, left + width, label.y + 0.2 * label.size


def overlap(one: tuple[float, ...], two: tuple[float, ...]) -> bool:
    return one[0] < two[2] and two[0] < one[2] and one[1] < two[3] and two[1] < one[3]


@settings(max_examples=40, deadline=None, suppress_health_check=list(HealthCheck))
@given(drawings(), st.sampled_from(get_args(PictureName)), st.booleans())
def test_no_letters_lie_on_others_or_off_the_sheet(found: Drawn, which: str, narrow: bool) -> None:
    sheet = picture(found, which, narrow=narrow)
    labels = [shape for shape in sheet.shapes if isinstance(shape, Label)]
    for label in labels:
        assert label.size >= 11.0
        left, top, right, bottom = box(label)
        # The estimate of a width is on the wide side.
        assert left >= 0.0, label
        assert right <= sheet.width * 1.02, label
        assert top >= 0.0
        assert bottom <= sheet.height
    for one, two in itertools.combinations(labels, 2):
        assert not overlap(box(one), box(two)), (one, two)


@settings(max_examples=20, deadline=None, suppress_health_check=list(HealthCheck))
@given(drawings(), st.booleans())
def test_no_wire_goes_through_letters(found: Drawn, narrow: bool) -> None:
    sheet = picture(found, "parts", narrow=narrow)
    labels = [box(shape) for shape in sheet.shapes if isinstance(shape, Label)]
    for shape in sheet.shapes:
        if isinstance(shape, Stroke):
            (x, y), (nx, ny) = shape.points[0], shape.points[-1]
            line = (min(x, nx) - 1.0, min(y, ny) - 1.0, max(x, nx) + 1.0, max(y, ny) + 1.0)
            assert not [each for each in labels if overlap(line, each)], shape


def test_letters_are_no_wider_than_counted_with() -> None:
    """Widths of a common font without serifs, DejaVu Sans, as matplotlib ships it."""
    from matplotlib.font_manager import FontProperties
    from matplotlib.textpath import TextPath

    for text in ("14.5 V", "takes 5.84 W", "lead AWG 18, 1.5 m", "the first limit, at 36.9 W for all loads together"):
        for bold in (False, True):
            font = FontProperties(family="DejaVu Sans", weight="bold" if bold else "normal")
            real = TextPath((0, 0), text, size=SMALL, prop=font).get_extents().width
            assert real <= 1.16 * width_of(text, SMALL, bold=bold), text


@pytest.mark.parametrize("which", get_args(PictureName))
@pytest.mark.parametrize("narrow", [False, True])
def test_a_picture_is_svg_with_title_and_words_and_nothing_that_is_fetched(which: str, narrow: bool) -> None:
    rig = Rig(title='<script>"&', trigger="15V", branch=[{"name": "a-b", **BRANCHES[1]}])
    text = picture(of(rig), which, narrow=narrow).svg()
    root = ElementTree.fromstring(text.encode())
    names = {element.tag.rpartition("}")[2] for element in root.iter()}
    assert names <= {"svg", "title", "style", "text", "polyline", "rect", "path"}
    assert not re.search(r"(?:href|src|url\()", text)
    assert len(root.attrib["aria-label"]) > 20


def test_every_branch_and_every_figure_is_told_in_words() -> None:
    rig = Rig(trigger="15V", branch=[{"name": f"b{at}", **each} for at, each in enumerate(BRANCHES)])
    found = of(rig)
    words = picture(found).words
    for branch in found.branches:
        assert f"Branch {branch.branch}" in words
    assert found.trunk[0].current_a is not None
    assert "charger wall-100 15 V" in words


@settings(max_examples=30, deadline=None, suppress_health_check=list(HealthCheck))
@given(drawings())
def test_the_bands_are_as_high_as_they_have_watts(found: Drawn) -> None:
    listed = flows(found)
    bands = [shape for shape in picture(found, "watts").shapes if isinstance(shape, Area)]
    assert len(bands) == len(listed)
    given_w = sum(each.power_w for each in listed)
    for flow, band in zip(listed, bands, strict=True):
        heights = [y for _, y in band.points[:4]], [y for _, y in band.points[-3:]]
        high = max(heights[1]) - min(heights[0])
        assert high == pytest.approx(max(170.0 * flow.power_w / given_w, 0.6), rel=1e-6)


def test_the_voltage_goes_down_by_steps_with_what_is_allowed_beside_it() -> None:
    rig = Rig(trigger="15V", branch=[{"name": "hub", **BRANCHES[0]}])
    found = of(rig)
    stops = places(found, found.branches[0])
    assert [stop.name for stop in stops] == ["charger", "bus", "converter in", "converter out", "load"]
    assert stops[2].allowed_v == (6.0, 18.0)
    case = found.judgement.case
    for stop, node in zip(stops, ("source", "bus", "hub/in", "hub/out", "hub/load"), strict=True):
        assert case.node_voltage(node) == stop.voltage_v
    sheet = picture(found, "voltage", "hub")
    assert any(isinstance(shape, Label) and shape.text == "may be 6 V to 18 V" for shape in sheet.shapes)


def test_what_gets_no_power_is_drawn_all_the_same() -> None:
    rig = Rig(trigger={"request": "12V", "fallback": "none"}, branch=[{"name": "hub", **BRANCHES[0]}])
    found = of(rig)
    for which in get_args(PictureName):
        sheet = picture(found, which)
        assert sheet.height > 0.0
        assert "power" in sheet.words or "nothing" in sheet.words or "off" in sheet.words


def test_a_branch_that_is_not_there_is_refused() -> None:
    found = of(Rig(trigger="9V", branch=[{"name": "fan", "load": "5W"}]))
    with pytest.raises(InputError, match="no branch named 'fun'"):
        picture(found, "voltage", "fun")


def test_png_is_the_picture_at_twice_its_size() -> None:
    sheet = picture(of(Rig(title="cost $5 $", trigger="9V", branch=[{"name": "fan", "load": "5W"}])), "parts")
    data = painted(sheet)
    assert data[:8] == b"\x89PNG\r\n\x1a\n"
    width, height = int.from_bytes(data[16:20]), int.from_bytes(data[20:24])
    assert math.isclose(width, 2 * sheet.width, abs_tol=2)
    assert math.isclose(height, 2 * sheet.height, abs_tol=2)


def test_a_frame_says_what_limits() -> None:
    rig = Rig(trigger="20V", branch=[{"name": "lamp", "load": {"power": "10W", "voltage": "15V-24V"}}])
    sheet: Picture = picture(of(rig, "5V 3A, 20V 3A"))
    marked = [shape for shape in sheet.shapes if isinstance(shape, Frame) and shape.role == "second"]
    assert len(marked) == 1
    assert marked[0].dashed
