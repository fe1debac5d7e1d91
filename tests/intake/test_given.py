"""What the user handed over: text, a path, standard input; and what is refused."""

import io
import sys

import pytest

from pdcheck.errors import InputError
from pdcheck.intake.given import Given, file_bytes, given


@pytest.mark.parametrize(
    "text", ["a1 61", "5V⎓3A, 9V/2A", "5V 3A / 9V 3A", "0x2C,0x91", "C1/C2: 5V 3A", "\\xa1\\x61", "a1/61", "5V/3A"]
)
def test_text_is_taken_as_it_is(text):
    assert given(text) == Given("", text.encode())


@pytest.mark.parametrize(
    "path", ["no-such.txt", "./no-such", "folder/kit.toml", "../x.hex", "/no/such", "~/capture.log", "a.csv"]
)
def test_what_looks_like_a_path_of_no_file_is_told_so(path):
    with pytest.raises(InputError, match="no such file") as caught:
        given(path)
    assert caught.value.where == path


def test_files_directories_and_standard_input(tmp_path, monkeypatch):
    path = tmp_path / "words.txt"
    path.write_bytes(b"\xa1")
    assert given(str(path)) == Given(str(path), b"\xa1")
    with pytest.raises(InputError, match="directory"):
        given(str(tmp_path))
    with pytest.raises(InputError, match="readable"):
        file_bytes(tmp_path / "none")
    monkeypatch.setattr(sys, "stdin", io.TextIOWrapper(io.BytesIO(b"5V")))
    assert given("-") == Given("standard input", b"5V")
    monkeypatch.setattr(sys, "stdin", None)
    with pytest.raises(InputError, match="closed"):
        given("-")


@pytest.mark.parametrize("text", ["x" * 5000, "a\0b", "5V 3A\n9V 3A", "é" * 300])
def test_what_can_be_no_path_is_no_error(text):
    assert given(text).data == text.encode()


@pytest.mark.parametrize(
    ("data", "place"),
    [
        (b"5V 3A\n9V \xff", "line 2, offset 3"),
        (b"\xff\xfe5", "line 1, offset 0"),
        (b"a1\n\nb2\0", "line 3, offset 2"),
        ("µ\xff".encode("latin-1"), "line 1, offset 0"),
    ],
)
def test_bytes_that_are_no_text_are_named_with_their_place(data, place):
    with pytest.raises(InputError) as caught:
        Given("log", data).text()
    assert caught.value.where == place


def test_the_mark_of_utf_8_is_passed_over():
    assert Given("", b"\xef\xbb\xbf5V").text() == "5V"


def test_blame_puts_the_name_before_the_place():
    error = InputError("is odd", where="line 2")
    assert str(Given("a.log", b"").blame(error)) == "a.log, line 2: is odd"
    assert Given("", b"").blame(error) is error


@pytest.mark.parametrize("target", ["a", "nowhere"])
def test_a_link_to_no_file_is_no_hex(target, tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    (tmp_path / "a").symlink_to(target)
    with pytest.raises(InputError, match="a link that leads to no file"):
        given("./a")
