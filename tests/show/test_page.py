"""The page: what it shows is what the JSON says, every text is escaped, and nothing is fetched from anywhere."""

import re
from collections import Counter
from itertools import pairwise
from pathlib import Path

import pytest

from pdcheck.show.page.palette import custom_properties, packaged
from pdcheck.show.page.try_section import _Texts
from tests.show import page_reader as reader

DATA = Path(__file__).parents[2] / "pdcheck" / "data"
KIT = DATA / "kit.toml"

AWKWARD = r"""
title = "<script>alert(1)</script> & \"quoted\" $x_1$"
[trigger]
title = "<img src=x onerror=alert(2)>"
request = "20V"
rating = "3A"
[[branch]]
name = "set"
converter = { kind = "buck", input = "9V-24V", output = "12V", output_range = "3V-15V", title = "</li>" }
load = { power = "24W" }
[[branch]]
name = "strip"
load = { led = { count = 3, vf = "3.4V", current = "250mA" }, title = "</script><b>" }
[[source]]
id = "brick"
title = "$\\frac{a}{b}$ <u>140 W</u>"
offers = "5V 3A, 9V 3A, 15V 3A, 20V 5A, 28V 5A; PPS 3.3-21V 5A; AVS 15-28V 140W"
captured_over = "EPR"
[[cable]]
id = "long"
title = "]]> --> </style>"
kind = "EPR"
loop = "150mOhm"
"""


@pytest.fixture(scope="module")
def page_of(tmp_path_factory):
    """Makes the page of a demo rig, and keeps it."""
    from tests.conftest import call

    made = {}

    def page(*arguments):
        if arguments not in made:
            path = tmp_path_factory.mktemp("page") / "page.html"
            outcome = call("report", *arguments, "-o", path)
            assert outcome.code in (0, 1), outcome.err
            made[arguments] = path.read_text(encoding="utf-8")
        return made[arguments]

    return page


@pytest.fixture(scope="module")
def awkward(page_of, tmp_path_factory):
    path = tmp_path_factory.mktemp("rig") / "awkward.toml"
    path.write_text(AWKWARD, encoding="utf-8")
    return page_of(path)


PAGES = {
    "runs": (DATA / "pier-box.toml", "--kit", KIT, "--source", "wall-45", "--cable", "thin-2m"),
    "fails": (DATA / "pedalboard.toml", "--kit", KIT, "--source", "old-18", "--cable", "a-to-c"),
    "best": (DATA / "field-sensor.toml", "--kit", KIT),
}


@pytest.fixture(params=[*PAGES, "awkward"])
def page(request, page_of, awkward):
    return awkward if request.param == "awkward" else page_of(*PAGES[request.param])


@pytest.mark.parametrize("name", ["runs", "fails"])
def test_the_page_carries_the_documents_of_check_and_matrix(page_of, pdcheck, name):
    rig, *options = PAGES[name]
    root = reader.read(page_of(rig, *options))
    assert reader.data(root) == pdcheck("check", rig, *options, "--json").json
    assert reader.data(root, "pdcheck-matrix") == pdcheck("matrix", rig, "--kit", KIT, "--json").json


def test_figures_of_the_chain_are_those_of_the_document(page):
    root = reader.read(page)
    document = reader.result(root)
    shown = [each for each in root.all("dd") if "data-of" in each.attributes]
    keys = {each.attributes["data-of"] for each in shown}
    for node in (each["node"] for each in document["nodes"]):
        if "/" not in node or node.endswith("/load"):
            assert {f"nodes/{node}/voltage_v", f"nodes/{node}/current_a"} <= keys
    for each in shown:
        triple = reader.at(document, each.attributes["data-of"])
        numbers, step = reader.figures(each.text)
        for number, value in zip(numbers, (triple["typ"], triple["min"], triple["max"]), strict=True):
            assert abs(number - value) <= step / 2 + 1e-9 or abs(number - triple["typ"]) <= step, each.text


def test_findings_are_those_of_the_document(page):
    root = reader.read(page)
    document = reader.result(root)
    section = root.one("section", id="findings")
    shown = [each for each in section.all("li") if "data-rule" in each.attributes]
    assert len(shown) == len(document["findings"])
    left = list(shown)
    for finding in document["findings"]:
        line = next(
            each
            for each in left
            if each.attributes["data-rule"] == finding["rule"]
            and each.text.startswith(f"{finding['subject']}: {finding['text']}")
        )
        left.remove(line)
        card = next(above for above in line.parents if above.tag == "li")
        assert card.one("h3").text.startswith(f"{finding['level']}: ")
        assert card.one("code").text == finding["rule"] and finding["origin"] in card.text
        assert ("(value " in line.text) == (finding["value"] is not None)
        assert (finding["advice"] in card.text) or finding["level"] == "note"
    order = [each.attributes["class"] for each in section.all("li") if "class" in each.attributes]
    assert order == sorted(order, key=("stop", "fail", "warn", "note").index)


def test_findings_of_one_rule_stand_together(page_of):
    section = reader.read(page_of(*PAGES["fails"])).one("section", id="findings")
    heads = [each.text for each in section.all("h3")]
    assert len(heads) == len(set(heads))
    assert any(len(list(each.all("li"))) > 1 for each in section.all("ul"))


def test_what_was_not_judged_is_to_be_ticked_off(page):
    root = reader.read(page)
    document, verdict = reader.result(root), root.one("section", id="verdict")
    shown = [label.text.rpartition(" (")[0] for label in verdict.all("label")]
    assert shown == [each["text"] for each in document["not_judged"]]
    assert all(label.one("input").attributes["type"] == "checkbox" for label in verdict.all("label"))
    headline = verdict.one("h2").text
    assert headline.endswith("if what is listed here holds.") == bool(shown)
    assert ("It does not do the job." in headline) == (document["verdict"] == "fails")


def test_cells_of_the_kit_are_those_of_the_matrix(page_of):
    root = reader.read(page_of(*PAGES["best"]))
    cells = reader.data(root, "pdcheck-matrix")["cells"]
    table = root.one("table", id="kit-grid")
    headers, *body = reader.rows(table)
    shown = {
        (source, cable): text
        for row in body
        for source in row[0].split(", ")
        for head, text in zip(headers[1:], row[1:], strict=True)
        for cable in head.split(", ")
    }
    reasons = {each.one("dt").text: each.one("code").text for each in root.one("dl", class_="terms reasons").all("div")}
    columns = {cable for _, cable in shown}
    for cell in cells:
        own = cell["source"], cell["cable"] if cell["cable"] in columns else "its own cable"
        sign, _, letter = re.fullmatch(
            r"(\S)(?:runs|limited|fails|unsafe)(?: (\S+ W))?(?: ([a-z]+))?", shown[own]
        ).groups()
        assert f"{sign}{cell['verdict']}" in shown[own]
        assert cell["rule"] == (None if letter is None else reasons[letter])
        watts = re.search(r"(\d+\.\d) W", shown[own])
        assert (watts is None and cell["max_w"] == 0) or cell["max_w"] - 0.1 < float(watts[1]) <= cell["max_w"]
    assert sum(text != "–" for text in shown.values()) == len(cells)


def test_the_grid_begins_with_the_worst_and_merges_what_is_equal(page_of):
    rows = list(reader.read(page_of(*PAGES["fails"])).one("table", id="kit-grid").all("tr"))[1:]
    worst = [int(each.attributes["data-worst"]) for each in rows]
    assert worst == sorted(worst, reverse=True)
    bodies = [tuple(cell.text for cell in row.all("td")) for row in rows]
    assert len(bodies) == len(set(bodies))


def test_what_to_do_has_the_figure_filled_in(page_of, pdcheck, tmp_path):
    """The setting that is proposed works on as many pairs as it says, by ``matrix`` on a file that is set to it."""
    rig, *options = PAGES["fails"]
    line = next(reader.read(page_of(rig, *options)).all("p", class_="to-do")).text
    volts, works, total, now = re.match(
        r"Set it to (\d+ V|highest): then (\d+) of your (\d+) pairs work\. Set to 12 V it works on (\d+)", line
    ).groups()
    for setting, expected in ((volts, works), ("12 V", now)):
        changed = tmp_path / f"{setting}.toml"
        changed.write_text(rig.read_text(encoding="utf-8").replace('"12V"', f'"{setting}"', 1), encoding="utf-8")
        cells = pdcheck("matrix", changed, "--kit", KIT, "--json").json["cells"]
        assert len(cells) == int(total)
        assert sum(cell["verdict"] in ("runs", "limited") for cell in cells) == int(expected)


def test_what_to_buy_is_said_as_need_says_it(page_of, pdcheck):
    rig, *options = PAGES["runs"]
    said = " ".join(pdcheck("need", rig).out.split())
    section = reader.read(page_of(rig, *options)).one("section", id="need")
    for table in section.all("table"):
        assert table.one("caption").text in said
        for row in reader.rows(table)[1:]:
            assert all(cell in said for cell in row), row
    for term in section.all("dd"):
        assert term.text in said
    assert next(each.text for each in section.all("p")) in said


def test_the_gallery_shows_all_that_a_source_offers(page_of):
    root = reader.read(page_of(*PAGES["best"]))
    (brick,) = (each for each in root.one("ul", class_="gallery").all("li") if "brick-140:" in each.text)
    assert "28 V 5 A" in brick.text and "offer 8: 28 V, 5 A" in [each.text for each in brick.all("title")]


def test_text_of_files_stands_as_text(awkward):
    root = reader.read(awkward)
    assert root.one("h1").text == '<script>alert(1)</script> & "quoted" $x_1$'
    assert not list(root.all("img")) and not list(root.all("u")) and not list(root.all("script", src="x"))
    kinds = Counter(each.attributes.get("type") for each in root.all("script"))
    assert kinds.keys() == {"application/json", None} and kinds[None] == 1
    assert "<img src=x onerror=alert(2)>" in root.one("section", id="chain").text
    assert r"$\frac{a}{b}$ <u>140 W</u>" in root.one("section", id="source").text
    assert reader.data(root)["rig"] == '<script>alert(1)</script> & "quoted" $x_1$'


def test_control_characters_become_visible(awkward):
    from pdcheck.parts.kit import Kit
    from pdcheck.parts.rig import Rig
    from pdcheck.show.page.compose import build_page
    from pdcheck.show.page.section import Section, Sheet
    from pdcheck.verdict.greatest import Greatest
    from pdcheck.verdict.judge import judge

    kit = Kit(source=[{"id": "s", "offers": "5V 3A, 9V 3A"}], cable=[{"id": "c", "kind": "C-C", "loop": "100mOhm"}])
    rig = Rig(trigger={"request": "9V"}, branch=[{"name": "fan", "load": {"current": "1A"}}])
    dirty = "a\u202eb\x1b[31mc\x00d<e"
    section = Section("more", dirty, dirty, [dirty], tables=[Sheet(dirty, [dirty], [[dirty]])])
    page = build_page(judge(rig, kit.sources[0], kit.cables[0]), Greatest(1.0, 2.0, None), [section], {})
    assert not re.search("[\x00-\x08\x0b-\x1f\u202a-\u202e\u2066-\u2069]", page)
    assert reader.read(page).one("section", id="more").one("h2").text == r"a\u202eb\x1b[31mc\x00d<e"


def test_nothing_is_fetched_from_anywhere(page):
    root = reader.read(page)
    for element in root.all():
        for name, value in element.attributes.items():
            if name in ("src", "href", "xlink:href", "action", "data", "poster", "srcset"):
                assert value.startswith("#"), (element.tag, name, value)
    assert "default-src 'none'" in page
    assert not re.search(r"@import|@font-face|url\((?!#)", page)


def test_every_id_is_there_once_and_every_reference_leads_to_one(page):
    root = reader.read(page)
    ids = [element.attributes["id"] for element in root.all() if "id" in element.attributes]
    assert len(ids) == len(set(ids))
    wanted = set(re.findall(r"url\(#([^)]+)\)", page)) | set(re.findall(r'href="#([^"]+)"', page))
    wanted |= {one for each in re.findall(r'aria-labelledby="([^"]+)"', page) for one in each.split()}
    assert wanted <= set(ids)


def test_pictures_and_tables_speak(page):
    root = reader.read(page)
    pictures = list(root.all("svg"))
    assert pictures
    for picture in pictures:
        assert picture.attributes["role"] == "img"
        assert len(picture.attributes["aria-label"]) > 20
        assert any(above.tag == "figure" for above in picture.parents)
    for table in root.all("table"):
        assert table.one("caption").text
        assert all(head.attributes.get("scope") in ("col", "row") for head in table.all("th"))
        widths = {len(row) for row in reader.rows(table)}
        assert len(widths) == 1, reader.rows(table)[0]
    assert [each.tag for each in root.all() if each.tag in ("header", "nav", "main", "footer")] == [
        "header", "nav", "main", "footer",
    ]  # fmt: skip
    levels = [int(each.tag[1]) for each in root.all() if re.fullmatch("h[1-6]", each.tag)]
    assert levels[0] == 1 and all(after - before <= 1 for before, after in pairwise(levels))


def test_points_of_the_plots_have_titles(page_of):
    root = reader.read(page_of(*PAGES["runs"]))
    titles = [each.text for each in root.one("section", id="source").one("svg").all("title")]
    node = reader.at(reader.result(root), "nodes/source/current_a")
    assert "offer 3: 15 V, 3 A" in titles
    assert "offer 4: PPS 3.3 to 16 V, 3 A at the top" in titles
    assert f"working point: 15 V, {node['typ']:.3g} A" in titles


def test_the_best_pair_is_shown_where_none_is_named(page_of):
    root = reader.read(page_of(*PAGES["best"]))
    cells = reader.data(root, "pdcheck-matrix")["cells"]
    document = reader.result(root)
    shown = next(each for each in cells if (each["source"], each["cable"]) == (document["source"], document["cable"]))
    order = ("runs", "limited", "fails", "unsafe")
    best = min(cells, key=lambda each: (order.index(each["verdict"]), -each["max_w"]))
    assert (shown["verdict"], shown["max_w"]) == (best["verdict"], best["max_w"])


def test_the_same_input_makes_the_same_page(page_of, pdcheck, tmp_path):
    again = tmp_path / "again.html"
    pdcheck("report", *PAGES["best"], "-o", again)
    assert again.read_text(encoding="utf-8") == page_of(*PAGES["best"])


def test_figures_to_try_stand_in_their_own_order_wherever_nan_lies_in_memory():
    values = [each for at in range(200) for each in (float("nan"), at / 7)]
    places = list(dict.fromkeys(_Texts().figures(values, "V")))
    assert places == sorted(places) and len(places) > 100


def luminance(colour):
    """Relative luminance of ``#rrggbb`` [WCAG 2.1, definitions]."""
    parts = [int(colour[at : at + 2], 16) / 255 for at in (1, 3, 5)]
    red, green, blue = (part / 12.92 if part <= 0.03928 else ((part + 0.055) / 1.055) ** 2.4 for part in parts)
    return 0.2126 * red + 0.7152 * green + 0.0722 * blue


def contrast(one, other):
    light, dark = sorted((luminance(one), luminance(other)), reverse=True)
    return (light + 0.05) / (dark + 0.05)


def test_contrast_formula_on_known_values():
    assert contrast("#ffffff", "#000000") == pytest.approx(21.0)
    assert contrast("#777777", "#ffffff") == pytest.approx(4.48, abs=0.01)


@pytest.mark.parametrize("scheme", [0, 1, 2], ids=["light", "dark", "print"])
@pytest.mark.parametrize("ground", ["paper", "card"])
def test_every_colour_of_text_and_of_drawings_can_be_read(scheme, ground):
    colours = custom_properties(":root" + packaged("style.css").split(":root")[1 + scheme])
    for name in ("ink", "soft", "accent", "second", "stop", "warn"):
        assert contrast(colours[name], colours[ground]) >= 4.5, name
