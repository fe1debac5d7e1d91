"""``pdcheck encode``: a label to a message that an independent CRC and decoder agree with, and back."""

import random
import zlib

import pytest

dice = random.Random(20240504)


def test_the_published_list(pdcheck):
    outcome = pdcheck("encode", "5V 3A, 9V 3A, 12V 2.75A, 15V 2.2A, 20V 1.65A; PPS 3.3-11V 3A")
    assert outcome.code == 0
    raw = bytes.fromhex(outcome.out)
    words = [int.from_bytes(raw[at : at + 4], "little") for at in range(2, 26, 4)]
    # The capture has USB Suspend Supported set in its first object, which no label says.
    assert [words[0] & 0x3FFFFF, *words[1:]] == [
        0x0001912C, 0x0002D12C, 0x0003C113, 0x0004B0DC, 0x000640A5, 0xC0DC213C,
    ]  # fmt: skip
    assert int.from_bytes(raw[:2], "little") & 0xF01F == 0x6001
    assert zlib.crc32(raw[:-4]) == int.from_bytes(raw[-4:], "little")


def test_random_labels_there_and_back(pdcheck):
    for _ in range(60):
        volts = sorted(dice.sample(range(120, 401), 5))
        pairs = [(100, dice.randrange(1, 501))] + [(volt, dice.randrange(1, 501)) for volt in volts]
        text = ", ".join(f"{volt * 50 / 1000:g}V {amp * 10 / 1000:g}A" for volt, amp in pairs)
        outcome = pdcheck("encode", text)
        raw = bytes.fromhex(outcome.out)
        words = [int.from_bytes(raw[at : at + 4], "little") for at in range(2, len(raw) - 4, 4)]
        assert [(word >> 10 & 1023, word & 1023) for word in words] == pairs
        back = pdcheck("decode", "--json", outcome.out).json
        assert back["messages"][0]["crc"]["ok"] is True
        assert [(o["voltage_mv"] // 50, o["current_ma"] // 10) for o in back["offers"]] == pairs


def test_the_order_is_the_standards(pdcheck):
    outcome = pdcheck("encode", "PPS 3.3-16V 2A, 20V 2A, PPS 3.3-11V 3A, 5V 3A, 9V 3A")
    offers = pdcheck("decode", "--json", outcome.out).json["offers"]
    assert [o.get("voltage_mv", o.get("max_voltage_mv")) for o in offers] == [5000, 9000, 20000, 11000, 16000]


@pytest.mark.parametrize(("option", "bits"), [("2.0", 1), ("3.x", 2)])
def test_revision_and_id(pdcheck, option, bits):
    raw = bytes.fromhex(pdcheck("encode", "--revision", option, "--id", "5", "5V 3A").out)
    header = int.from_bytes(raw[:2], "little")
    assert header >> 6 & 3 == bits and header >> 9 & 7 == 5


def test_epr_in_chunks(pdcheck):
    outcome = pdcheck("encode", "5V 3A, 9V 3A, 15V 3A, 20V 5A, 28V 5A; AVS 15-28V 140W")
    lines = outcome.out.split("\n")[:-1]
    # What a source sends before EPR mode, then the list of EPR mode in two chunks.
    assert [int.from_bytes(bytes.fromhex(line)[:2], "little") >> 15 for line in lines] == [0, 1, 1]
    back = pdcheck("decode", "--json", outcome.out).json
    assert [(o["position"], o["kind"]) for o in back["offers"]] == [
        (1, "fixed"), (2, "fixed"), (3, "fixed"), (4, "fixed"), (8, "fixed"), (9, "epr-avs"),
    ]  # fmt: skip
    assert all(message["crc"]["ok"] for message in back["messages"])


def test_hex_may_be_encoded_again(pdcheck):
    first = pdcheck("encode", "5V 3A, 9V 2A").out
    assert pdcheck("encode", first.strip()).out == first


def test_json(pdcheck):
    document = pdcheck("encode", "--json", "5V 3A").json
    assert document["schema"] == "pdcheck/encode/1"
    assert document["messages"] == [{"type": "Source_Capabilities", "hex": document["messages"][0]["hex"]}]


@pytest.mark.parametrize("text", ["5V 3A, " + ", ".join(f"{volt}V 1A" for volt in range(6, 16)), "5V 20A"])
def test_what_no_source_can_offer(refused, text):
    refused("encode", text)


def test_a_current_of_more_than_5_a_is_encoded_as_it_stands(pdcheck):
    # The object holds up to 10.23 A; that it is too much is decode's to say.
    outcome = pdcheck("encode", "5V 6A")
    assert pdcheck("decode", "--json", outcome.out).json["offers"][0]["problems"]


def test_a_wave_reads_back_as_the_message(pdcheck, tmp_path):
    target = tmp_path / "signal.vcd"
    outcome = pdcheck("encode", "5V 3A, 9V 3A", "--wave", str(target))
    assert outcome.code == 0
    back = pdcheck("decode", "--json", str(target)).json
    assert [message["raw"] for message in back["messages"]] == [bytes.fromhex(outcome.out).hex()]
    assert back["messages"][0]["crc"]["ok"] is True


def test_messages_in_hex_get_their_crc_and_a_wave(pdcheck, tmp_path):
    target = tmp_path / "signal.vcd"
    lines = "82102cb10430\nSOP' 4f1141a000ff\nHard_Reset"
    outcome = pdcheck("encode", lines, "--wave", str(target))
    raws = [bytes.fromhex(line) for line in outcome.out.split("\n")[:-1]]
    assert zlib.crc32(raws[0][:-4]) == int.from_bytes(raws[0][-4:], "little")
    back = pdcheck("decode", "--json", str(target)).json["messages"]
    assert [message["sop"] for message in back] == ["SOP", "SOP'", "Hard_Reset"]
    assert [message["raw"] for message in back] == [raw.hex() for raw in raws]
