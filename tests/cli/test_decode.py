"""``pdcheck decode``: random words against a second decoder, the published capture, requests, chunks, exit codes."""

import importlib.util
import random
import zlib
from pathlib import Path

import pytest

_spec = importlib.util.spec_from_file_location("independent", Path(__file__).parents[1] / "independent.py")
second = importlib.util.module_from_spec(_spec)
_spec.loader.exec_module(second)

CAPTURE = "a1612c9101082cd1020013c10300dcb00400a54006003c21dcc048c6e7c6"
dice = random.Random(20240503)


def message(header, words=(), *, crc=True):
    raw = header.to_bytes(2, "little") + b"".join(word.to_bytes(4, "little") for word in words)
    return raw + zlib.crc32(raw).to_bytes(4, "little") if crc else raw


def random_words(count):
    """Words of every kind alike, half of them with few bits set, as real ones have."""
    out = []
    while len(out) < count:
        word = (
            dice.getrandbits(30) & (dice.getrandbits(30) if dice.random() < 0.5 else 0x3FFFFFFF)
            | dice.randrange(4) << 30
        )
        out.append(word or 1)
    return out


def same(found, word, *, sink=False):
    kind, figures, flags = second.power_object(word, sink=sink)
    assert found["kind"] == kind
    assert found["word"] == f"{word:08X}"
    assert {key: found[key] for key in figures} == figures
    assert set(found["flags"]) == flags, (hex(word), found)


def test_random_source_words_in_messages_field_by_field(pdcheck):
    for _ in range(150):
        words = random_words(7)
        raw = message(0x71A1, words)
        outcome = pdcheck("decode", "--json", raw.hex())
        assert outcome.code == 0 and not outcome.err
        document = outcome.json
        assert document["schema"] == "pdcheck/decode/3"
        assert [offer["position"] for offer in document["offers"]] == list(range(1, 8))
        for offer, word in zip(document["offers"], words, strict=True):
            same(offer, word)
        # What was read is what was sent, reserved bits and all.
        assert document["messages"][0]["raw"] == raw.hex()


def test_random_bare_words(pdcheck):
    for _ in range(40):
        words = [word for word in random_words(7) if word >> 16 != 0xFF00]
        outcome = pdcheck("decode", "--json", " ".join(f"0x{word:08X}" for word in words))
        for offer, word in zip(outcome.json["offers"], words, strict=True):
            same(offer, word)


def test_random_sink_words(pdcheck):
    for _ in range(60):
        words = random_words(7)
        outcome = pdcheck("decode", "--json", message(0x7084, words).hex())
        for found, word in zip(outcome.json["messages"][0]["objects"], words, strict=True):
            same(found, word, sink=True)
        assert outcome.json["offers"] == []


@pytest.mark.parametrize("form", ["fixed", "battery", "pps", "avs"])
@pytest.mark.parametrize("header", [0x1082, 0x1042], ids=["3.x", "2.0"])
def test_random_requests(pdcheck, form, header):
    for word in random_words(60):
        outcome = pdcheck("decode", "--json", "--request-as", form, message(header, [word], crc=False).hex())
        found = outcome.json["messages"][0]["objects"][0]
        figures, flags = second.request(word, form, revision_2=header == 0x1042 and form in ("fixed", "battery"))
        assert found["kind"] == form and found["word"] == f"{word:08X}"
        assert {key: found[key] for key in figures} == figures, hex(word)
        assert set(found["flags"]) == flags
        assert "ambiguous" not in found


@pytest.mark.parametrize("form", ["fixed", "battery", "pps", "avs"])
def test_a_bare_request_word(pdcheck, form):
    word = dice.getrandbits(32)
    outcome = pdcheck("decode", "--json", "--request-as", form, f"0x{word:08X}")
    figures, _ = second.request(word, form)
    found = outcome.json["objects"][0]
    assert {key: found[key] for key in figures} == figures


OFFERED = {
    "fixed": 0x0801912C,
    "battery": 0x401690F0,
    "variable": 0x8161912C,
    "pps": 0xC0DC213C,
    "spr-avs": 0xE004B0E1,
}


@pytest.mark.parametrize("kind", OFFERED)
def test_a_request_is_read_by_the_offer_it_points_at(pdcheck, kind):
    words = [0x0801912C, OFFERED[kind]]
    asked = 2 << 28 | dice.getrandbits(22)
    text = f"{message(0x21A1, words).hex()}\n{message(0x1082, [asked]).hex()}"
    found = pdcheck("decode", "--json", text).json["messages"][1]["objects"][0]
    form = {"variable": "fixed", "spr-avs": "avs"}.get(kind, kind)
    figures, _ = second.request(asked, form)
    assert {key: found[key] for key in figures} == figures


def test_a_request_without_capabilities_is_read_as_fixed_and_said_to_be_ambiguous(pdcheck):
    found = pdcheck("decode", "--json", message(0x1082, [0x1304B12C]).hex()).json["messages"][0]["objects"][0]
    assert found["kind"] == "fixed" and found["ambiguous"] is True
    assert any(problem["code"] == "ambiguous" for problem in found["problems"])


def test_random_headers(pdcheck):
    for _ in range(200):
        word = dice.getrandbits(15)
        count = word >> 12 & 7
        outcome = pdcheck("decode", "--json", message(word, random_words(count)).hex())
        expected = second.header(word)
        found = outcome.json["messages"][0]["header"]
        expected.pop("type")
        if found["type"] == "GoodCRC":
            expected.pop("revision")
        assert {key: found[key] for key in expected} == expected
        assert found["word"] == f"{word:04X}"


def test_the_published_capture_field_for_field(pdcheck):
    outcome = pdcheck("decode", "--json", CAPTURE)
    assert outcome.code == 0
    document = outcome.json
    (told,) = document["messages"]
    assert told["header"] == {
        "type": "Source_Capabilities",
        "id": 0,
        "revision": "3.x",
        "power_role": "source",
        "data_role": "DFP",
        "object_count": 6,
        "extended": False,
        "word": "61A1",
    }
    assert told["crc"] == {"given": "C6E7C648", "computed": "C6E7C648", "ok": True}
    assert (told["index"], told["time_s"], told["sop"], told["raw"]) == (0, None, "SOP", CAPTURE)
    figures = [(o["voltage_mv"], o["current_ma"]) for o in document["offers"][:5]]
    assert figures == [(5000, 3000), (9000, 3000), (12000, 2750), (15000, 2200), (20000, 1650)]
    pps = document["offers"][5]
    assert (pps["kind"], pps["min_voltage_mv"], pps["max_voltage_mv"], pps["current_ma"]) == ("pps", 3300, 11000, 3000)
    assert [o["word"] for o in document["offers"]] == [
        "0801912C", "0002D12C", "0003C113", "0004B0DC", "000640A5", "C0DC213C",
    ]  # fmt: skip
    assert document["doubtful"] is False


@pytest.mark.parametrize("bit", range(0, 240, 7))
def test_one_flipped_bit(pdcheck, bit):
    damaged = bytearray(bytes.fromhex(CAPTURE))
    damaged[bit // 8] ^= 1 << bit % 8
    outcome = pdcheck("decode", "--json", damaged.hex())
    assert outcome.code == 1
    document = outcome.json
    assert document["messages"][0]["crc"]["ok"] is False
    assert document["doubtful"] is True and len(document["offers"]) == 6
    text = pdcheck("decode", damaged.hex())
    assert text.code == 1 and "CRC WRONG" in text.out and "doubtful" in text.out
    assert text.out.count("fixed") >= 4


def test_offers_of_a_later_sound_message_are_not_doubtful(pdcheck):
    damaged = bytearray(bytes.fromhex(CAPTURE))
    damaged[5] ^= 1
    outcome = pdcheck("decode", "--json", f"{damaged.hex()}\n{CAPTURE}")
    assert outcome.code == 1
    assert outcome.json["doubtful"] is False


EPR = [0x0881912C, 0x0002D12C, 0x0004B12C, 0x000641F4, 0, 0, 0, 0x0008C1F4, 0xD230968C]


def chunks(block, kind=17):
    """An extended message of a source as a sniffer shows it: chunk, request for the next, chunk."""
    out = []
    for number in range(-(-len(block) // 26)):
        part = block[26 * number : 26 * number + 26]
        inner = 0x8000 | number << 11 | len(block)
        body = inner.to_bytes(2, "little") + part
        body += bytes(-len(body) % 4)
        if number:
            ask = 0x8000 | number << 11 | 0x400
            head = 0x9080 | kind | (number - 1) << 9
            raw = head.to_bytes(2, "little") + ask.to_bytes(2, "little") + bytes(2)
            out.append(raw + zlib.crc32(raw).to_bytes(4, "little"))
        head = 0x8180 | 0x20 | kind | (len(body) // 4) << 12 | number << 9
        raw = head.to_bytes(2, "little") + body
        out.append(raw + zlib.crc32(raw).to_bytes(4, "little"))
    return out


def test_chunks_that_belong_together(pdcheck):
    block = b"".join(word.to_bytes(4, "little") for word in EPR)
    lines = chunks(block)
    assert len(lines) == 3
    outcome = pdcheck("decode", "--json", "\n".join(line.hex(" ") for line in lines))
    assert outcome.code == 0
    document = outcome.json
    assert [each["header"]["type"] for each in document["messages"]] == ["EPR_Source_Capabilities"] * 3
    assert [(o["position"], o["kind"]) for o in document["offers"]] == [
        (1, "fixed"), (2, "fixed"), (3, "fixed"), (4, "fixed"), (8, "fixed"), (9, "epr-avs"),
    ]  # fmt: skip
    avs = document["offers"][-1]
    assert (avs["min_voltage_mv"], avs["max_voltage_mv"], avs["pdp_w"]) == (15000, 28000, 140)
    assert document["problems"] == []


def test_a_chunk_that_never_came_is_said(pdcheck):
    block = b"".join(word.to_bytes(4, "little") for word in EPR)
    outcome = pdcheck("decode", "--json", chunks(block)[0].hex())
    assert outcome.json["offers"] == []
    assert [problem["code"] for problem in outcome.json["problems"]] == ["block-unfinished"]


def test_an_epr_request_pair(pdcheck):
    block = b"".join(word.to_bytes(4, "little") for word in EPR)
    asked = second.avs_request(9, 24000, 5000, epr=True)
    lines = [*chunks(block), message(0x2089, [asked, EPR[8]])]
    last = pdcheck("decode", "--json", "\n".join(line.hex() for line in lines)).json["messages"][-1]
    assert last["header"]["type"] == "EPR_Request"
    first, copy = last["objects"]
    assert (first["position"], first["output_voltage_mv"], first["operating_current_ma"]) == (9, 24000, 5000)
    assert (copy["kind"], copy["word"], copy["pdp_w"]) == ("epr-avs", "D230968C", 140)
    assert last["problems"] == []


ODD = {
    "reserved bits": ([0x0841912C], "reserved"),
    "minimum above maximum": ([0x0801912C, 0xC0425160], "above maximum"),
    "zero voltage": ([0x0801912C, 0x0000012C], "zero"),
    "more than 5 A": ([0x0801912C, 0x00064258], "5 A"),
    "wrong order": ([0x0801912C, 0x0004B12C, 0x0002D12C], "before"),
    "first not 5 V": ([0x0002D12C], "first object"),
    "an EPR voltage in an SPR message": ([0x0801912C, 0x0008C12C], "EPR"),
}


@pytest.mark.parametrize(("words", "said"), ODD.values(), ids=ODD)
def test_what_is_odd_is_a_problem_and_no_refusal(pdcheck, words, said):
    outcome = pdcheck("decode", "--json", message(0x01A1 | len(words) << 12, words).hex())
    assert outcome.code == 0
    document = outcome.json
    assert [offer["word"] for offer in document["offers"]] == [f"{word:08X}" for word in words]
    texts = [p["text"] for p in document["messages"][0]["problems"] + document["problems"]]
    texts += [p["text"] for offer in document["offers"] for p in offer["problems"]]
    assert any(said in text for text in texts), texts


def test_more_than_seven_objects(pdcheck):
    outcome = pdcheck("decode", "--json", " ".join(["0x0801912C"] + ["0x0002D12C"] * 7))
    assert outcome.code == 0 and len(outcome.json["offers"]) == 8
    assert outcome.json["problems"]


@pytest.mark.parametrize("way", ["argument", "arguments", "file", "standard input", "gzip"])
def test_the_text_a_path_or_standard_input(pdcheck, tmp_path, way):
    spaced = bytes.fromhex(CAPTURE).hex(" ")
    if way == "argument":
        outcome = pdcheck("decode", "--json", spaced)
    elif way == "arguments":
        outcome = pdcheck("decode", "--json", *spaced.split())
    elif way == "standard input":
        outcome = pdcheck("decode", "--json", "-", stdin=spaced)
    else:
        path = tmp_path / "capture.log"
        data = spaced.encode()
        if way == "gzip":
            import gzip

            data = gzip.compress(data)
        path.write_bytes(data)
        outcome = pdcheck("decode", "--json", path)
    assert outcome.code == 0 and len(outcome.json["offers"]) == 6


def test_a_file_named_as_hex_is_read_as_a_file(pdcheck, tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    (tmp_path / "cafe").write_text("5V 3A, 9V 2A")
    assert [offer["voltage_mv"] for offer in pdcheck("decode", "--json", "cafe").json["offers"]] == [5000, 9000]


def test_the_line_and_offset_of_a_mistake_in_a_file(pdcheck, refused, tmp_path):
    path = tmp_path / "capture.log"
    path.write_text(f"{CAPTURE}\n0.5 → a1 61 zz\n", encoding="utf-8")
    wrong = "line 2, offset 14: 'zz' is no hex; expected hex digits, two a byte"
    assert refused("pick", "--source", path, "--output", "5V@1A") == f"pdcheck: --source, {path}, {wrong}\n"
    outcome = pdcheck("decode", path)
    assert (
        (outcome.code, outcome.err) == (1, "") and f"! {wrong}" in outcome.out and "Source_Capabilities" in outcome.out
    )
    document = pdcheck("decode", path, "--json").json
    assert [each["code"] for each in document["problems"]] == ["torn-line"] and len(document["messages"]) == 1
    for option in ("--jsonl", "--csv"):
        outcome = pdcheck("decode", path, option)
        assert outcome.code == 1 and wrong in outcome.err and CAPTURE in outcome.out


def test_a_label(pdcheck):
    document = pdcheck("decode", "--json", "5V⎓3A, 9V⎓3A / 15V=3A 20V 3.25A; PPS 3.3-11V 3A").json
    assert document["form"] == "label" and document["messages"] == []
    assert [(o["kind"], o.get("voltage_mv")) for o in document["offers"]] == [
        ("fixed", 5000), ("fixed", 9000), ("fixed", 15000), ("fixed", 20000), ("pps", None),
    ]  # fmt: skip
