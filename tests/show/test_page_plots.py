"""Plots: what is drawn stands where the figures say, and single plots are files that open."""

import xml.etree.ElementTree as ET
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from pdcheck.bits.offers import epr_avs, fixed, pps, spr_avs
from pdcheck.contract.talk.bus_voltage import Segment
from pdcheck.intake.label import read_label
from pdcheck.show.page.bus_plot import bus_plot
from pdcheck.show.page.offers_plot import WorkingPoint, offers_plot
from pdcheck.show.page.outputs_plot import EnvelopeLine, outputs_plot
from pdcheck.show.page.palette import PAGE, on_paper
from pdcheck.show.page.svg import file_svg, inline_svg

DATA = Path(__file__).parents[2] / "pdcheck" / "data"
RIG, KIT = DATA / "pier-box.toml", DATA / "kit.toml"


def drawn(plot):
    """The points that can be pointed at, by id."""
    (axes,) = plot.figure.axes
    return {line.get_gid(): line.get_xydata().tolist() for line in axes.lines if line.get_gid()}


@settings(max_examples=25, deadline=None)
@given(
    st.lists(
        st.tuples(st.integers(60, 960), st.integers(1, 500)), min_size=1, max_size=7, unique_by=lambda each: each[0]
    ),
    st.tuples(st.floats(0, 50), st.floats(0, 6)),
)
def test_fixed_offers_and_the_working_point_stand_where_they_belong(steps, point):
    offers = [fixed(50 * volts, 10 * amps, at + 1) for at, (volts, amps) in enumerate(steps)]
    plot = offers_plot(offers, WorkingPoint(*point))
    points = drawn(plot)
    for offer in offers:
        assert points[f"offer{offer.position}"] == [[offer.max_mv / 1000, offer.current_ma / 1000]]
        assert f"offer {offer.position}: {offer.max_mv / 1000:g} V" in plot.label
    assert points["point"] == [list(point)]
    (axes,) = plot.figure.axes
    for volts, amps in (each for found in points.values() for each in found):
        assert axes.get_xlim()[0] <= volts <= axes.get_xlim()[1]
        assert axes.get_ylim()[0] <= amps <= axes.get_ylim()[1]


def area(plot, gid):
    (axes,) = plot.figure.axes
    (found,) = (each for each in axes.collections if each.get_gid() == gid)
    return [tuple(corner) for corner in found.get_paths()[0].vertices]


def test_areas_have_the_shape_of_what_is_granted():
    plot = offers_plot(
        [fixed(5000, 3000), pps(3300, 16000, 3000, 2), spr_avs(3000, 2250, 3), epr_avs(15000, 28000, 140, 8)]
    )
    assert max(volts for volts, _ in area(plot, "offer2")) == 16.0
    assert {amps for volts, amps in area(plot, "offer2") if amps} == {3.0}
    step = {volts: amps for volts, amps in area(plot, "offer3") if amps}
    assert (step[15.0], step[15.001], step[20.0]) == (3.0, 2.25, 2.25)
    power = {round(volts * amps) for volts, amps in area(plot, "offer8") if amps and volts * 5 > 141}
    assert power <= {139, 140}


def test_kinds_are_told_apart_by_more_than_colour():
    plot = offers_plot([pps(3300, 16000, 3000, 1), spr_avs(3000, 2250, 2), epr_avs(15000, 28000, 140, 8)])
    hatches = [each.get_hatch() for each in plot.figure.axes[0].collections if each.get_hatch()]
    assert len(set(hatches)) == 3


def line(name, volts, amps):
    watts = [each * amp for each, amp in zip(volts, amps, strict=True)]
    return EnvelopeLine(name, volts, amps, amps, watts, watts, ["source"] * len(volts))


def test_an_output_that_can_be_set_is_drawn_over_its_voltages():
    plot = outputs_plot([line("20 V", [3.0, 12.0], [4.0, 3.4]), line("5 V", [3.0, 12.0], [0.0, 0.0])])
    points = drawn(plot)
    assert points["line0at1"] == [[12.0, 3.4]]
    assert plot.names["line0at1"] == "20 V: 12 V, 3.400 A at worst, limited by source"
    shown = [each for each in plot.figure.axes[0].lines if len(each.get_xydata()) == 2]
    assert len({(each.get_linestyle(), each.get_marker()) for each in shown}) == 2
    assert [each.get_text() for each in plot.figure.axes[0].get_legend().get_texts()] == ["20 V", "5 V: nothing"]


def test_an_output_of_one_voltage_is_drawn_by_contract():
    plot = outputs_plot([line("20 V", [12.0], [3.0]), line("5 V", [12.0], [0.0])], 18.0)
    bars = [each for each in plot.figure.axes[0].patches if each.get_gid()]
    assert [each.get_width() for each in bars] == [36.0, 0.0]
    assert drawn(plot)["asked"][0][0] == 18.0
    assert plot.label.endswith("Asked for: 18.00 W")


def test_the_bus_is_drawn_within_its_band():
    held = Segment(0.0, 0.2, 5.0, 5.0, 4.75, 5.5, True, 3.0, False, "5 V")
    moving = Segment(0.2, 0.4, 5.0, 15.0, 4.25, 16.25, False, None, False, "")
    after = Segment(0.4, 2.0, 15.0, 15.0, 14.25, 15.75, True, 3.0, False, "15 V")
    plot = bus_plot([held, moving, after])
    assert drawn(plot)["bus1"] == [[0.2, 5.0], [0.4, 15.0]]
    assert "within 14.25 to 15.75 V" in plot.names["bus2"]


def test_two_drawings_share_no_id_and_no_colour_is_left_over():
    one, other = (inline_svg(offers_plot([pps(3300, 16000, 3000)]), prefix) for prefix in ("a", "b"))
    ids = [{each.attrib["id"] for each in ET.fromstring(text).iter() if "id" in each.attrib} for text in (one, other)]
    assert not ids[0] & ids[1]
    assert not any(stand_in in one for stand_in in PAGE)
    assert "var(--accent)" in one


def test_names_and_labels_are_escaped():
    plot = offers_plot([fixed(5000, 3000)])
    plot.names["offer1"] = "<b>&\u202e"
    text = inline_svg(plot._replace(label='"><script>'), "a")
    root = ET.fromstring(text)
    assert root.attrib["aria-label"] == '"><script>'
    assert [each.text for each in root.iter() if each.tag.endswith("title")] == ["<b>&\\u202e"]


def test_a_dollar_sign_is_a_dollar_sign():
    plot = outputs_plot([line(r"$\frac{1}{$", [12.0], [3.0])])
    assert r"$\frac{1}{$" in file_svg(plot)


@pytest.mark.parametrize("which", ["offers", "envelope", "bus"])
def test_a_single_plot_as_a_file(pdcheck, tmp_path, which):
    svg, png = tmp_path / "plot.svg", tmp_path / "plot.png"
    outcome = pdcheck("report", RIG, "--kit", KIT, "--plot", which, "--svg", svg, "--png", png)
    assert outcome.code == 0, outcome.err
    text = svg.read_text(encoding="utf-8")
    assert ET.fromstring(text).tag.endswith("svg")
    assert on_paper().ink in text and not any(stand_in in text for stand_in in PAGE)
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
    plot = offers_plot(read_label(label).offers, small=True)
    assert len(inline_svg(plot, "p")) < 40_000
