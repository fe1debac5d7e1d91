"""Plots: what is drawn stands where the figures say, and single plots are files that open."""

import itertools
import xml.etree.ElementTree as ET
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from pdcheck.bits.offers import epr_avs, fixed, pps, spr_avs
from pdcheck.contract.talk.bus_voltage import Segment
from pdcheck.intake.label import read_label
from pdcheck.parts.cable import Cable
from pdcheck.parts.rig import Rig
from pdcheck.parts.source import Source
from pdcheck.show.page.outputs_section import branch_picture
from pdcheck.show.page.palette import on_paper
from pdcheck.show.pictures.axes import WIDTH, Axes, Span
from pdcheck.show.pictures.bus_picture import bus_picture
from pdcheck.show.pictures.offers_picture import WorkingPoint, offers_picture
from pdcheck.show.pictures.outputs_picture import Bar, Curve, bars_picture, curves_picture
from pdcheck.show.pictures.shapes import Area, Frame, Label, Stroke, width_of
from pdcheck.show.pictures.transient_picture import transient_picture
from pdcheck.verdict.case import Case
from pdcheck.verdict.envelopes import envelopes
from pdcheck.verdict.transient.first_second import transient

DATA = Path(__file__).parents[2] / "pdcheck" / "data"
RIG, KIT = DATA / "pier-box.toml", DATA / "kit.toml"


def told(picture, start):
    """The shapes of which something is told that begins so."""
    return [shape for shape in picture.shapes if not isinstance(shape, Label) and shape.told.startswith(start)]


def scale(picture):
    """From places back to figures, by the numbers that stand on the axes."""
    numbers = [shape for shape in picture.shapes if isinstance(shape, Label) and shape.role == "soft"]
    across = sorted({(float(each.text), each.x) for each in numbers if each.anchor == "middle"})
    up = sorted({(float(each.text), each.y - 4.0) for each in numbers if each.anchor == "end" and each.x < 60.0})

    def back(pairs, place):
        (low, start), (high, end) = pairs[0], pairs[-1]
        return low + (place - start) * (high - low) / (end - start)

    return lambda point: (back(across, point[0]), back(up, point[1]))


def middle(stroke):
    (x, y), (other, _) = stroke.points[0], stroke.points[-1]
    return 0.5 * (x + other), y


def labels_apart(picture):
    def box(label):
        width = width_of(label.text, label.size, bold=label.bold)
        left = label.x - {"start": 0.0, "middle": 0.5, "end": 1.0}[label.anchor] * width
        return left, label.y - 0.75 * label.size, left + width, label.y + 0.2 * label.size

    boxes = [box(shape) for shape in picture.shapes if isinstance(shape, Label)]
    assert all(left >= 0.0 and right <= picture.width * 1.02 for left, _, right, _ in boxes)
    for one, two in itertools.combinations(boxes, 2):
        assert not (one[0] < two[2] and two[0] < one[2] and one[1] < two[3] and two[1] < one[3])


@settings(max_examples=40, deadline=None)
@given(
    st.lists(
        st.tuples(st.integers(60, 960), st.integers(1, 500)), min_size=1, max_size=7, unique_by=lambda each: each[0]
    ),
    st.tuples(st.floats(0, 50), st.floats(0, 6)),
)
def test_fixed_offers_and_the_working_point_stand_where_they_belong(steps, point):
    offers = [fixed(50 * volts, 10 * amps, at + 1) for at, (volts, amps) in enumerate(steps)]
    picture = offers_picture(offers, WorkingPoint(*point))
    back = scale(picture)
    for offer in offers:
        [dot] = told(picture, f"offer {offer.position}: {offer.max_mv / 1000:g} V")
        assert back(middle(dot)) == pytest.approx((offer.max_mv / 1000, offer.current_ma / 1000), abs=0.02)
        assert f"offer {offer.position}: {offer.max_mv / 1000:g} V" in picture.words
    cross = told(picture, "working point")[0].points
    centre = (0.5 * (cross[0][0] + cross[1][0]), 0.5 * (cross[0][1] + cross[1][1]))
    assert back(centre) == pytest.approx(point, abs=0.02)


LABELS = ("5V 3A, 9V 3A, 15V 3A, 20V 5A; PPS 3.3-21V 5A; AVS 9-20V 3A", "5V 3A, 28V 5A; AVS 15-48V 240W", "5V 1A",
          "battery 5-12V 18W", "5V 3A, 5.5V 2.75A, 6V 2A, 9V 3A")  # fmt: skip


@pytest.mark.parametrize("label", LABELS)
def test_letters_are_apart_and_on_the_sheet(label):
    labels_apart(offers_picture(read_label(label).offers, WorkingPoint(9.0, 1.2)))


def outline(picture, kind):
    [area] = [shape for shape in told(picture, "offer") if isinstance(shape, Area) and kind in shape.told]
    back = scale(picture)
    return [back(point) for point in area.points]


def test_areas_have_the_shape_of_what_is_granted():
    offers = [fixed(5000, 3000), pps(3300, 16000, 3000, 2), spr_avs(3000, 2250, 3), epr_avs(15000, 28000, 140, 8)]
    picture = offers_picture(offers)
    assert max(volts for volts, _ in outline(picture, "PPS")) == pytest.approx(16.0, abs=0.01)
    assert {round(amps, 2) for _, amps in outline(picture, "PPS")} == {0.0, 3.0}
    upper = [(volts, amps) for volts, amps in outline(picture, "SPR-AVS") if amps > 0.1]
    assert [round(amps, 2) for _, amps in upper] == [3.0, 3.0, 2.25, 2.25]
    assert {round(volts, 1) for volts, _ in upper[1:3]} == {15.0}
    for volts, amps in outline(picture, "EPR-AVS"):
        assert amps < 0.1 or amps == pytest.approx(min(5.0, 140 / volts), abs=0.06)


def test_each_range_has_its_name():
    offers = [pps(3300, 16000, 3000, 1), spr_avs(3000, 2250, 2), epr_avs(15000, 28000, 140, 8)]
    names = {shape.text for shape in offers_picture(offers).shapes if isinstance(shape, Label)}
    assert {"PPS", "SPR-AVS", "EPR-AVS"} <= names


def test_an_output_that_can_be_set_is_drawn_over_its_voltages():
    curves = [
        Curve("20 V", [3.0, 7.0, 12.0], [4.0, 3.9, 3.4], [True, False, True], ["source"] * 3),
        Curve("5 V", [3.0, 7.0, 12.0], [0.0, 0.0, 0.0], [True, False, True], ["wire"] * 3),
    ]
    picture = curves_picture("amp", curves)
    back = scale(picture)
    marks = told(picture, "20 V")
    assert [back(middle(each)) for each in marks] == [
        pytest.approx(each, abs=0.03) for each in ((3.0, 4.0), (12.0, 3.4))
    ]
    assert marks[1].told == "20 V: 12 V, 3.4 A at worst, limit: source"
    assert [each.text for each in picture.shapes if isinstance(each, Label)][:2] == ["A: 20 V", "B: 5 V: nothing"]
    labels_apart(picture)


def test_an_output_of_one_voltage_is_drawn_by_contract():
    picture = bars_picture("amp", [Bar("20 V", 36.0, 40.0, "x"), Bar("5 V", 0.0, 0.0, "")], 18.0, "what it takes")
    [bar] = [shape for shape in picture.shapes if isinstance(shape, Frame)]
    [tick] = [shape for shape in told(picture, "20 V") if isinstance(shape, Stroke)]
    asked = next(shape for shape in picture.shapes if isinstance(shape, Stroke) and shape.dashed)
    unit = bar.width / 36.0
    assert tick.points[0][0] - bar.x == pytest.approx(40.0 * unit)
    assert asked.points[0][0] - bar.x == pytest.approx(18.0 * unit)
    assert picture.words == "20 V: 36 W sure, 40 W typically (x); 5 V: nothing; dashed: 18 W, what it takes"
    labels_apart(picture)


def test_a_load_without_a_converter_is_told_what_it_gets_and_not_what_another_could_have():
    rig = Rig(trigger="9V", branch=[{"name": "heater", "load": {"resistance": "36ohm", "power": "6W"}}])
    source, cable = Source(id="s", offers="5V 3A, 9V 3A"), Cable(id="c", kind="C-C", loop="0.1ohm")
    found, case = envelopes(rig, source, cable), Case(rig, source, cable)
    words = branch_picture(found, case, "heater", "t").words
    assert case.point is not None
    assert f"{case.point.loads['heater'].min:.3g} W sure" in words
    assert "too weak" in words


def test_the_drawn_curve_is_the_envelope_between_its_marks():
    """Straight lines between what is drawn are within 1 % of ``envelope`` at points between."""
    box = {"kind": "buck-boost", "input": "6V-36V", "output": "12V", "output_range": "5V-24V", "output_limit": "4A",
           "efficiency": 0.92, "idle": "0.3W"}  # fmt: skip
    rig = Rig(trigger="20V", branch=[{"name": "amp", "converter": box, "load": "18W"}])
    source, cable = Source(id="s", offers="5V 3A, 9V 3A, 15V 3A, 20V 3A"), Cable(id="c", kind="C-C", loop="0.2ohm")
    found = envelopes(rig, source, cable)
    picture = branch_picture(found, Case(rig, source, cable), "amp", "t")
    back = scale(picture)
    curve = next(shape for shape in picture.shapes if isinstance(shape, Stroke) and len(shape.points) > 20)
    points = [back(point) for point in curve.points]
    tried = [7.5, 11.3, 13.1, 15.4, 19.2, 23.3]
    exact = envelopes(rig, source, cable, branch="amp", voltages=tried).contracts[0].branches[0].points
    for volts, point in zip(tried, exact, strict=True):
        (low, one), (high, two) = next(pair for pair in itertools.pairwise(points) if pair[0][0] <= volts <= pair[1][0])
        drawn = one + (volts - low) / (high - low) * (two - one)
        assert drawn == pytest.approx(point.current_a.min, rel=0.01)


def test_the_bus_is_drawn_within_its_band():
    held = Segment(0.0, 0.2, 5.0, 5.0, 4.75, 5.5, True, 3.0, False, "5 V")
    moving = Segment(0.2, 0.4, 5.0, 15.0, 4.25, 16.25, False, None, False, "")
    after = Segment(0.4, 2.0, 15.0, 15.0, 14.25, 15.75, True, 3.0, False, "15 V")
    picture = bus_picture([held, moving, after])
    back = scale(picture)
    [line] = [shape for shape in told(picture, "200 ms to 400 ms") if isinstance(shape, Stroke)]
    assert [back(point) for point in line.points] == [
        pytest.approx(each, abs=0.03) for each in ((0.2, 5.0), (0.4, 15.0))
    ]
    assert told(picture, "400 ms to 2 s: 15 V, within 14.25 to 15.75 V")
    labels_apart(picture)


def test_the_first_second_has_a_bar_where_a_branch_is_on():
    rig = Rig(trigger="9V", branch=[{"name": "fan", "load": "5W"}, {"name": "lamp", "load": "36ohm"}])
    found = transient(Case(rig, Source(id="s", offers="5V 3A, 9V 3A"), Cable(id="c", kind="C-C", loop="0.1ohm")))
    picture = transient_picture(found)
    assert len([shape for shape in picture.shapes if isinstance(shape, Frame)]) >= 2
    assert "fan" in " ".join(shape.text for shape in picture.shapes if isinstance(shape, Label))
    labels_apart(picture)


@settings(max_examples=100, deadline=None)
@given(st.floats(0.001, 1e4), st.integers(2, 12))
def test_steps_of_an_axis_are_round_and_few(span, most):
    steps = Span(0.0, span, "").steps(most)
    assert 1 <= len(steps) <= most + 1
    assert all(0.0 <= each <= span * (1 + 1e-6) for each in steps)
    axes = Axes(Span(0.0, span, "x"), Span(0.0, 1.0, "y"), 30.0, 100.0)
    assert all(0.0 <= axes.x(each) <= WIDTH for each in steps)


def test_names_and_labels_are_escaped():
    picture = bars_picture('"><script>', [Bar("<b>&\u202e", 1.0, 1.0, "")])
    root = ET.fromstring(picture.inline())
    assert root.attrib["aria-label"].startswith('"><script>')
    assert "<b>&\\u202e: 1 W sure" in [each.text for each in root.iter() if each.tag.endswith("title")]
    assert "var(--accent)" in picture.inline()


@pytest.mark.parametrize("which", ["offers", "envelope", "bus"])
def test_a_single_plot_as_a_file(pdcheck, tmp_path, which):
    svg, png = tmp_path / "plot.svg", tmp_path / "plot.png"
    outcome = pdcheck("report", RIG, "--kit", KIT, "--plot", which, "--svg", svg, "--png", png)
    assert outcome.code == 0, outcome.err
    text = svg.read_text(encoding="utf-8")
    assert ET.fromstring(text).tag.endswith("svg")
    assert on_paper().ink in text
    assert png.read_bytes().startswith(b"\x89PNG\r\n")


def test_the_plots_of_two_branches_differ(pdcheck):
    arguments = ("report", RIG, "--kit", KIT, "--plot", "envelope", "--svg", "-", "--branch")
    mount, heater = (pdcheck(*arguments, name) for name in ("mount", "dew-heater"))
    assert mount.out.startswith("<?xml") and mount.out != heater.out


def test_what_cannot_be_done_is_said_in_one_line(refused):
    assert "no branch named" in refused(
        "report", RIG, "--kit", KIT, "--plot", "envelope", "--svg", "-", "--branch", "x"
    )
    assert "nothing to write" in refused("report", RIG, "--kit", KIT)
    assert "wall-46" in refused("report", RIG, "--kit", KIT, "--source", "wall-46", "-o", "-")


def test_a_rig_that_fails_gets_its_page_and_exit_code_1(pdcheck):
    outcome = pdcheck("report", DATA / "pedalboard.toml", "--kit", KIT, "--source", "wall-45", "-o", "-")
    assert outcome.code == 1
    assert outcome.out.startswith("<!doctype html>") and "fails: It does not do the job." in outcome.out


@pytest.mark.parametrize(
    "label", ["5V 3A; PPS 3.3-11V 3A; AVS 9-20V 3A", "5V 3A, 28V 5A; AVS 15-48V 240W", "battery 5-12V 18W"]
)
def test_a_picture_of_any_kind_of_offer_stays_small(label):
    assert len(offers_picture(read_label(label).offers).inline()) < 20_000
