"""The system's tables, whole and damaged: what is read, what becomes a problem, and that nothing crashes."""

from __future__ import annotations

import contextlib
import json
import os
import shutil
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from pdcheck.bits.offers import Offer
from pdcheck.cli import run
from pdcheck.errors import InputError
from pdcheck.intake.sysfs.attached import read_attached, read_sysfs
from pdcheck.intake.sysfs.supply import parse_amount
from pdcheck.intake.sysfs.vendor import vendor_name, vendor_text

FLAGS = {
    "dual_role_power": "0",
    "usb_suspend_supported": "0",
    "unconstrained_power": "1",
    "usb_communication_capable": "0",
    "dual_role_data": "0",
    "unchunked_extended_messages_supported": "0",
}


def put(folder: Path, files: dict[str, str]) -> None:
    """Write attribute files as the kernel does, each ended by a line feed."""
    folder.mkdir(parents=True, exist_ok=True)
    for name, text in files.items():
        (folder / name).write_text(text + "\n")


def charger(table: Path, unit: bool = True) -> None:
    """The table of a 45 W charger: 5 V, 9 V, 15 V at 3 A, PPS, SPR AVS."""
    v, a = ("mV", "mA") if unit else ("", "")
    source = table / "source-capabilities"
    put(table, {"revision": "3.2"})
    first = {"voltage": f"5000{v}", "maximum_current": f"3000{a}", "peak_current": "0"}
    put(source / "1:fixed_supply", first | FLAGS)
    put(source / "2:fixed_supply", {"voltage": f"9000{v}", "maximum_current": f"3000{a}", "peak_current": "0"})
    put(source / "3:fixed_supply", {"voltage": f"15000{v}", "maximum_current": f"3000{a}", "peak_current": "0"})
    put(
        source / "4:spr_adjustable_voltage_supply",
        {"maximum_current_9V_to_15V": f"3000{a}", "maximum_current_15V_to_20V": f"0{a}", "peak_current": "0"},
    )
    put(
        source / "5:programmable_supply",
        {
            "maximum_voltage": f"16000{v}",
            "minimum_voltage": f"5000{v}",
            "maximum_current": f"3000{a}",
            "pps_power_limited": "1",
        },
    )


WORDS = [0x0801912C, 0x0002D12C, 0x0004B12C, 0xE004B000, 0xC940323C]


def cable(folder: Path, vdo: str = "0x000a0640", id_header: str = "0x18001234", revision: str = "3.0") -> None:
    """A passive cable's device, by default an EPR one of 5 A and 50 V."""
    put(folder, {"type": "passive", "plug_type": "type-c", "usb_power_delivery_revision": revision})
    zero = "0x00000000"
    put(
        folder / "identity",
        {
            "id_header": id_header,
            "cert_stat": zero,
            "product": "0x00010100",
            "product_type_vdo1": vdo,
            "product_type_vdo2": zero,
            "product_type_vdo3": zero,
        },
    )


def laptop(top: Path, *, unit: bool = True) -> Path:
    """A tree like /sys of a laptop with one port, a charger and a marked cable at it, all linked as the kernel does."""
    real = top / "devices" / "platform" / "port" / "typec" / "port0"
    put(
        real,
        {"power_role": "source [sink]", "data_role": "[host] device", "power_operation_mode": "usb_power_delivery"},
    )
    own = real / "pd0"
    put(own, {"revision": "3.0"})
    first = {"voltage": "5000mV", "maximum_current": "900mA", "peak_current": "0"}
    put(own / "source-capabilities" / "1:fixed_supply", first | FLAGS)
    partner = real / "port0-partner"
    put(partner, {"supports_usb_power_delivery": "yes", "usb_power_delivery_revision": "3.2", "type": "undefined"})
    charger(partner / "pd1", unit)
    (partner / "usb_power_delivery").symlink_to("pd1")
    (real / "usb_power_delivery").symlink_to("pd0")
    cable(real / "port0-cable")
    typec = top / "class" / "typec"
    typec.mkdir(parents=True)
    (typec / "port0").symlink_to("../../devices/platform/port/typec/port0")
    for name in ("port0-partner", "port0-cable"):
        (typec / name).symlink_to(f"../../devices/platform/port/typec/port0/{name}")
    tables = top / "class" / "usb_power_delivery"
    tables.mkdir()
    (tables / "pd0").symlink_to("../../devices/platform/port/typec/port0/pd0")
    (tables / "pd1").symlink_to("../../devices/platform/port/typec/port0/port0-partner/pd1")
    return top


@pytest.fixture
def tree(tmp_path: Path) -> Path:
    return laptop(tmp_path / "copy")


def words(offers: tuple[Offer, ...]) -> list[int]:
    return [offer.word for offer in offers]


def codes(problems: tuple) -> list[str]:
    return [problem.code for problem in problems]


@pytest.mark.parametrize("unit", [True, False])
def test_a_charger_reads_to_the_words_it_sent(tmp_path: Path, unit: bool) -> None:
    intake = read_sysfs(laptop(tmp_path, unit=unit))
    assert words(intake.offers) == WORDS
    assert [offer.position for offer in intake.offers] == [1, 2, 3, 4, 5]
    assert intake.cable is not None
    assert (intake.cable.current_ma, intake.cable.voltage_mv, intake.cable.epr) == (5000, 50000, True)
    assert intake.cable.vendor_id == 0x1234
    # The cable word in these trees leaves its latency at the reserved code 0, and nothing else is odd.
    assert codes(intake.problems) == ["reserved-code"]


@pytest.mark.parametrize("inner", ["", "class", "class/typec", "class/usb_power_delivery"])
def test_the_tree_may_be_entered_at_any_height(tree: Path, inner: str) -> None:
    assert words(read_sysfs(tree / inner).offers) == WORDS


def test_a_copy_below_a_directory_sys(tmp_path: Path) -> None:
    laptop(tmp_path / "sys")
    assert words(read_sysfs(tmp_path).offers) == WORDS


def test_a_copy_that_followed_the_links(tree: Path, tmp_path: Path) -> None:
    flat = tmp_path / "flat"
    shutil.copytree(tree / "class", flat / "class", symlinks=False)
    assert words(read_sysfs(flat).offers) == WORDS
    attached = read_attached(flat)
    assert [port.name for port in attached.ports] == ["port0"]
    assert attached.loose == ()


def test_tables_without_any_port_are_read(tmp_path: Path) -> None:
    charger(tmp_path / "class" / "usb_power_delivery" / "pd3")
    assert words(read_sysfs(tmp_path).offers) == WORDS
    assert words(read_sysfs(tmp_path, "pd3").offers) == WORDS


def test_the_ports_own_offers_are_not_the_chargers(tree: Path) -> None:
    shutil.rmtree(tree / "devices/platform/port/typec/port0/port0-partner")
    intake = read_sysfs(tree)  # the cable is still there
    assert intake.offers == ()
    assert "no-offers" in codes(intake.problems)
    shutil.rmtree(tree / "devices/platform/port/typec/port0/port0-cable")
    with pytest.raises(InputError, match="nothing is attached"):
        read_sysfs(tree)
    assert read_sysfs(tree, "pd0").offers[0].current_ma == 900


def test_two_chargers_need_a_choice(tree: Path) -> None:
    other = tree / "class/typec/port1"
    put(other, {"power_role": "source [sink]"})
    partner = tree / "class/typec/port1-partner"
    put(partner, {"supports_usb_power_delivery": "yes"})
    put(
        partner / "usb_power_delivery" / "source-capabilities" / "1:fixed_supply",
        {"voltage": "5000mV", "maximum_current": "1500mA"} | FLAGS,
    )
    with pytest.raises(InputError, match=r"more than one thing is attached.*port0 or port1"):
        read_sysfs(tree)
    assert words(read_sysfs(tree, "port0").offers) == WORDS
    assert [offer.current_ma for offer in read_sysfs(tree, "port1").offers] == [1500]
    with pytest.raises(InputError, match="no port 'port7'"):
        read_sysfs(tree, "port7")


def test_battery_and_variable_supplies(tmp_path: Path) -> None:
    source = tmp_path / "class/usb_power_delivery/pd0/source-capabilities"
    put(source / "1:fixed_supply", {"voltage": "5000mV", "maximum_current": "3000mA", "peak_current": "2"} | FLAGS)
    span = {"maximum_voltage": "9000mV", "minimum_voltage": "8000mV"}
    put(source / "2:battery", span | {"maximum_power": "27000mW"})
    put(source / "3:variable_supply", span | {"maximum_current": "2000mA"})
    offers = read_sysfs(tmp_path).offers
    assert [(o.kind, o.min_mv, o.max_mv, o.power_mw, o.current_ma) for o in offers[1:]] == [
        ("battery", 8000, 9000, 27000, None),
        ("variable", 8000, 9000, None, 2000),
    ]
    assert offers[0].peak_current == 2


def test_the_needs_of_an_attached_sink(tmp_path: Path) -> None:
    sink = tmp_path / "class/usb_power_delivery/pd0/sink-capabilities"
    put(
        sink / "1:fixed_supply", {"voltage": "5000mV", "operational_current": "900mA", "higher_capability": "1"} | FLAGS
    )
    put(
        sink / "2:programmable_supply",
        {"maximum_voltage": "11000mV", "minimum_voltage": "5000mV", "maximum_current": "2000mA"},
    )
    intake = read_sysfs(tmp_path)
    assert [reading.fields["current_ma"] for reading in intake.objects] == [900, 2000]
    assert intake.objects[0].fields["higher_capability"] is True


SOURCE = "devices/platform/port/typec/port0/port0-partner/pd1/source-capabilities"


def attributes(tree: Path) -> list[Path]:
    return sorted(path for path in (tree / SOURCE).rglob("*") if path.is_file())


def damage_missing(path: Path) -> None:
    path.unlink()


def damage_empty(path: Path) -> None:
    path.write_text("")


def damage_directory(path: Path) -> None:
    path.unlink()
    path.mkdir()


def damage_bytes(path: Path) -> None:
    path.write_bytes(b"\xff\xfe\x80")


def damage_words(path: Path) -> None:
    path.write_text("about 5 volts")


def damage_long(path: Path) -> None:
    path.write_bytes(b"5" * 10000)


def damage_ring(path: Path) -> None:
    path.unlink()
    path.symlink_to(path.name)


def damage_outside(path: Path) -> None:
    path.unlink()
    path.symlink_to("/etc/passwd")


def damage_pipe(path: Path) -> None:
    path.unlink()
    os.mkfifo(path)


DAMAGES = [
    (damage_missing, "missing"),
    (damage_empty, "empty"),
    (damage_directory, "unreadable"),
    (damage_bytes, "unreadable"),
    (damage_words, "no-value"),
    (damage_long, "too-long"),
    (damage_ring, "link-ring"),
    (damage_outside, "link-outside"),
    (damage_pipe, "unreadable"),
]


@pytest.mark.parametrize(("damage", "code"), DAMAGES, ids=[each.__name__ for each, _ in DAMAGES])
def test_one_damaged_file_is_one_problem(tree: Path, damage, code: str) -> None:
    before = len(read_sysfs(tree).problems)
    for number in range(len(attributes(tree))):
        copy = tree.parent / f"damaged-{number}"
        shutil.copytree(tree, copy, symlinks=True)
        path = attributes(copy)[number]
        damage(path)
        intake = read_sysfs(copy)
        about = [problem for problem in intake.problems if problem.where.endswith(f"{path.parent.name}/{path.name}")]
        optional = code == "missing" and path.name == "peak_current"
        assert [problem.code for problem in about] == ([] if optional else [code]), path
        left_out = path.parent.name if path.name.startswith(("voltage", "max", "min")) else None
        gone = [problem for problem in intake.problems if problem.code == "left-out"]
        assert len(gone) == (left_out is not None)
        assert len(intake.offers) == 5 - len(gone)
        if not gone:
            # Beside the damaged one nothing is worse off; where an offer is gone the list may be odd without it.
            assert len(intake.problems) == before + (not optional)


def test_an_off_step_value_is_not_rounded(tree: Path) -> None:
    (tree / SOURCE / "5:programmable_supply/maximum_current").write_text("2970mA")
    intake = read_sysfs(tree)
    assert len(intake.offers) == 4
    assert "off-step" in codes(intake.problems)


def test_padding_of_an_archiver_is_no_damage(tree: Path) -> None:
    for path in attributes(tree):
        path.write_bytes(path.read_bytes().ljust(4096, b"\0"))
    assert words(read_sysfs(tree).offers) == WORDS


def test_strange_names_are_told(tree: Path) -> None:
    for name in ("0:fixed_supply", "99:fixed_supply", "02:fixed_supply", "6:flux_supply"):
        put(tree / SOURCE / name, {"voltage": "5000mV", "maximum_current": "1000mA"})
    intake = read_sysfs(tree)
    assert words(intake.offers) == WORDS
    assert codes(intake.problems).count("position") == 3
    assert codes(intake.problems).count("unknown-supply") == 1


def test_links_that_lead_out_or_round_are_not_followed(tree: Path, tmp_path: Path) -> None:
    outside = tmp_path / "outside"
    charger(outside / "pd9")
    tables = tree / "class/usb_power_delivery"
    (tables / "pd9").symlink_to(outside / "pd9")
    (tables / "pd8").symlink_to("pd8")
    (tables / "pd7").symlink_to("nowhere")
    (tables / "pd6").symlink_to(".")
    (tree / SOURCE / "6:fixed_supply").symlink_to("..")
    intake = read_sysfs(tree, "port0")
    assert words(intake.offers) == WORDS
    found = {problem.where: problem.code for problem in intake.problems}
    assert found["class/usb_power_delivery/pd9"] == "link-outside"
    assert any(code == "link-ring" for code in found.values())
    assert all(offer.position != 9 for offer in intake.offers)


def test_a_revision_2_cable_is_not_read_as_50_volts(tree: Path) -> None:
    folder = tree / "devices/platform/port/typec/port0/port0-cable"
    shutil.rmtree(folder)
    cable(folder, vdo="0x00082652", revision="2.0")
    reading = read_sysfs(tree).cable
    assert reading is not None
    assert reading.revision == "2.0"
    assert reading.voltage_mv == 20000


def test_an_identity_not_yet_read_is_no_cable(tree: Path) -> None:
    folder = tree / "devices/platform/port/typec/port0/port0-cable"
    shutil.rmtree(folder)
    cable(folder, vdo="0x00000000", id_header="0x00000000")
    for name in ("product",):
        (folder / "identity" / name).write_text("0x0")
    assert read_sysfs(tree).cable is None
    plugged = read_attached(tree).ports[0].cable
    assert plugged is not None
    assert plugged.plug_type == "type-c"


def test_amounts() -> None:
    assert [parse_amount(text, "A") for text in ("3000mA", "3000", "3A", "3 A", "3000000uA", "0mA")] == [
        3000,
        3000,
        3000,
        3000,
        3000,
        0,
    ]
    for text in ("", "mA", "-5mA", "5000mV", "5.5A", "1e3", "3000000001uA", "5m"):
        with pytest.raises(InputError):
            parse_amount(text, "A")


def test_vendor_names(tmp_path: Path) -> None:
    ids = tmp_path / "usb.ids"
    ids.write_bytes(
        b"# list\n1234  Pier Works\n\t0001  Mount Box\nabcd  Caf\xe9\nC 00  (by interface)\n00ff  Not a vendor\n"
    )
    places = (str(tmp_path / "none"), str(ids))
    assert vendor_name(0x1234, places) == "Pier Works"
    assert vendor_text(0xABCD, places).startswith("0xABCD (Caf")
    assert vendor_name(0x0001, places) is None
    assert vendor_name(0x00FF, places) is None
    assert vendor_text(0x9999, places) == "0x9999"


def test_the_command_line(tree: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert run(["decode", "--from", "sysfs", str(tree), "--json"]) == 0
    document = json.loads(capsys.readouterr().out)
    assert [offer["word"] for offer in document["offers"]] == [f"{word:08X}" for word in WORDS]
    assert document["form"] == "sysfs"
    assert document["cable"]["current_ma"] == 5000
    assert run(["decode", "--list", str(tree), "--json"]) == 0
    listed = json.loads(capsys.readouterr().out)
    assert listed["ports"][0]["partner"]["table"]["table"] == "pd1"
    assert run(["decode", "--list", str(tree)]) == 0
    assert "port0" in capsys.readouterr().out
    assert run(["decode", "--from", "sysfs", str(tree / "none")]) == 2
    assert run(["decode", "--from", "sysfs", str(tree), "--port", "port5"]) == 2
    assert run(["decode", "--from", "hex", "--list"]) == 2


STUFF = st.sampled_from(
    ["5000mV", "3000mA", "", "1", "0x1234", "[sink]", "0.0", "3.0", "\x1b[2J", "-1", "9" * 50, "yes"]
)
NAMES = st.sampled_from(
    ["voltage", "maximum_current", "maximum_voltage", "minimum_voltage", "maximum_power", "dual_role_power"]
) | st.sampled_from(["revision", "power_role", "id_header", "cert_stat", "product", "product_type_vdo1", "type"])
PLACES = st.sampled_from(
    ["class/typec/port0", "class/typec/port0-partner", "class/typec/port0-partner/identity", "class/typec/port0-cable"]
    + ["class/typec/port0-cable/identity", "class/usb_power_delivery/pd0", "class/typec/port0-partner/pd0"]
    + [f"class/usb_power_delivery/pd0/source-capabilities/{name}" for name in ("1:fixed_supply", "2:battery", "3:x")]
    + [f"class/usb_power_delivery/pd0/sink-capabilities/{name}" for name in ("1:fixed_supply", "7:programmable_supply")]
)


@settings(max_examples=40, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(
    files=st.lists(st.tuples(PLACES, NAMES, STUFF | st.text(max_size=12)), max_size=30),
    links=st.lists(st.tuples(PLACES, PLACES), max_size=4),
)
def test_random_trees_never_crash(tmp_path_factory: pytest.TempPathFactory, files, links) -> None:
    top = tmp_path_factory.mktemp("random")
    for place, name, text in files:
        try:
            (top / place).mkdir(parents=True, exist_ok=True)
            (top / place / name).write_text(text, "utf-8", "surrogatepass")
        except OSError:
            continue
    for place, target in links:
        path = top / place
        with contextlib.suppress(OSError):
            path.parent.mkdir(parents=True, exist_ok=True)
            path.symlink_to(os.path.relpath(top / target, path.parent))
    for arguments in (["--from", "sysfs"], ["--list"], ["--from", "sysfs", "--json"], ["--list", "--json"]):
        assert run(["decode", *arguments, str(top)]) in (0, 1, 2)
    shutil.rmtree(top)


def test_a_folder_of_source_capabilities_is_an_input_itself(tmp_path):
    folder = tmp_path / "source-capabilities"
    for name, volts, amps in (("1:fixed_supply", "5000mV", "3000mA"), ("2:fixed_supply", "9000mV", "3000mA")):
        (folder / name).mkdir(parents=True)
        (folder / name / "voltage").write_text(volts + "\n")
        (folder / name / "maximum_current").write_text(amps + "\n")
    offers = read_sysfs(folder).offers
    assert [(offer.position, offer.max_mv, offer.current_ma) for offer in offers] == [(1, 5000, 3000), (2, 9000, 3000)]
