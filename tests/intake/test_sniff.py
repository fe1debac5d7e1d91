"""What an input is taken for, and what it comes to: label or hex, offers, requests, identity, doubt."""

import gzip
import zlib

import pytest

from pdcheck.errors import InputError
from pdcheck.intake.sniff import read_any, read_input

CAPTURE = "a1612c9101082cd1020013c10300dcb00400a54006003c21dcc048c6e7c6"


def message(header, words):
    raw = header.to_bytes(2, "little") + b"".join(word.to_bytes(4, "little") for word in words)
    return (raw + zlib.crc32(raw).to_bytes(4, "little")).hex()


LOOKS = {
    "5V 3A": "label",
    "5v/3a": "label",
    "５Ｖ３Ａ": "label",
    "PPS 3.3-11V 3A": "label",
    CAPTURE: "hex",
    "0x0801912C": "hex",
    "41 00": "hex",
}


@pytest.mark.parametrize(("text", "form"), LOOKS.items())
def test_what_an_input_looks_like(text, form):
    assert read_any(text).form == form


@pytest.mark.parametrize(("text", "form"), [("5V 3A", "hex"), (CAPTURE, "label")])
def test_a_form_that_is_named_is_not_guessed(text, form):
    with pytest.raises(InputError):
        read_any(text, form)


def test_the_last_capabilities_decide():
    later = message(0x11A1, [0x0801912C])
    assert [offer.max_mv for offer in read_any(f"{CAPTURE}\n{later}").offers] == [5000]


def test_doubt_is_of_the_message_that_brought_the_offers():
    bad = CAPTURE[:-1] + "7"
    assert read_any(bad).doubtful and read_any(bad).bad_crc()
    both = read_any(f"{bad}\n{CAPTURE}")
    assert not both.doubtful and both.bad_crc()
    assert not read_any("5V 3A").bad_crc()


def test_identity_words_are_no_offers():
    intake = read_any("0xFF00A841 0x1860EE01 0x00000000 0x00020100 0x100A2643")
    assert [reading.kind for reading in intake.objects] == [
        "vdm-header",
        "id-header",
        "cert-stat",
        "product",
        "passive-cable",
    ]
    with pytest.raises(InputError, match="no source capabilities"):
        intake.offers_or_error()


@pytest.mark.parametrize("form", ["fixed", "battery", "pps", "avs"])
def test_words_as_requests(form):
    assert [reading.kind for reading in read_any("0x1304B12C 0x2304B12C", request_form=form).objects] == [form, form]


def test_messages_without_offers_hold_none():
    with pytest.raises(InputError, match="no source capabilities"):
        read_any(message(0x0063, [])).offers_or_error()


@pytest.mark.parametrize(
    ("data", "said"),
    [
        (gzip.compress(b"5V 3A", mtime=0)[:-3], "end"),
        (b"\x1f\x8bnonsense", "unpacked"),
    ],
)
def test_a_broken_gzip(tmp_path, data, said):
    path = tmp_path / "log.gz"
    path.write_bytes(data)
    with pytest.raises(InputError, match=said):
        read_input(str(path))


def test_a_gzip_of_a_label(tmp_path):
    path = tmp_path / "log.gz"
    path.write_bytes(gzip.compress("5V⎓3A".encode()))
    assert read_input(str(path)).offers[0].current_ma == 3000


def test_the_odd_words_of_a_label_are_said():
    codes = {problem.code for problem in read_any("9V 3A, 15V 6A").problems}
    assert {"first-not-5v", "over-5a"} <= codes or len(codes) >= 2


def test_the_name_of_a_file_stands_in_its_errors(tmp_path):
    path = tmp_path / "my.log"
    path.write_text("zz")
    with pytest.raises(InputError, match=r"my\.log, line 1, offset 0"):
        read_input(str(path))
