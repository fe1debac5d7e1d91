"""Known conversations in the dresses of many loggers: each a text or bytes, and what must be read in it."""

from __future__ import annotations

import json
from collections.abc import Callable, Sequence
from datetime import UTC, datetime, timedelta
from typing import NamedTuple

from pdcheck.bits.crc import with_crc
from pdcheck.bits.message import read_message


class Sent(NamedTuple):
    """A message that was sent: time [s], ordered set, bytes from the header on without the CRC."""

    time_s: float
    sop: str
    raw: bytes

    @property
    def whole(self) -> bytes:
        """Its bytes with the CRC."""
        return with_crc(self.raw)

    @property
    def crc(self) -> bytes:
        """The CRC as sent."""
        return self.whole[-4:]

    @property
    def name(self) -> str:
        """The message's name."""
        return read_message(self.raw, self.sop).type

    @property
    def source(self) -> bool:
        """Whether the source sent it."""
        return bool(self.raw[1] & 1)


def spaced(data: bytes) -> str:
    """Pairs of digits with blanks."""
    return data.hex(" ")


def plain(at: int, sent: Sent) -> str:
    """A row as the plainest logger writes it."""
    return f"{sent.time_s:.6f} {sent.sop} {spaced(sent.whole)}\n"


def words_of(sent: Sent) -> list[int]:
    """The data objects as numbers."""
    return [int.from_bytes(sent.raw[at : at + 4], "little") for at in range(2, len(sent.raw), 4)]


CONVERSATION = tuple(
    Sent(time, sop, bytes.fromhex(raw))
    for time, sop, raw in (
        (0.000000, "SOP'", "8f10 01a000ff"),
        (0.000557, "SOP'", "4101"),
        (0.003000, "SOP'", "8f51 41a000ff 00006018 00000000 01000100 40260a00"),
        (0.004100, "SOP'", "4100"),
        (0.120000, "SOP", "a141 2c910108 2cd10200 2cb10400 f4410600"),
        (0.121557, "SOP", "4100"),
        (0.124000, "SOP", "8210 2cb10432"),
        (0.124900, "SOP", "6101"),
        (0.126000, "SOP", "a303"),
        (0.126600, "SOP", "4102"),
        (0.200500, "SOP", "a605"),
        (0.201100, "SOP", "4104"),
        (0.300000, "SOP", "8702"),
        (0.300600, "SOP", "6103"),
    )
)


def lines(render: Callable[[int, Sent], str], head: str = "") -> Callable[[Sequence[Sent]], str]:
    """A dress of one line a message."""

    def dress(sent: Sequence[Sent]) -> str:
        return head + "".join(render(at, one) + "\n" for at, one in enumerate(sent))

    return dress


_DAY = datetime(2026, 3, 4, 12, 30, 15, tzinfo=UTC)


def iso(time_s: float, end: str = "") -> str:
    """A time of day as ISO 8601 has it."""
    return (_DAY + timedelta(seconds=time_s)).strftime("%Y-%m-%dT%H:%M:%S.%f") + end


def us(time_s: float) -> int:
    """Whole microseconds."""
    return round(time_s * 1e6)


def delta(sent: Sequence[Sent], at: int) -> float:
    """The time since the message before [s]."""
    return sent[at].time_s - sent[at - 1].time_s if at else sent[0].time_s


def deltas(sent: Sequence[Sent]) -> str:
    """Times since the message before, with a sign and a unit."""
    return "".join(f"+{delta(sent, at) * 1e3:.3f}ms {one.sop} {one.whole.hex()}\n" for at, one in enumerate(sent))


def hexdump(data: bytes, wide: int = 16) -> str:
    """A dump with offsets and text at the right."""
    rows = []
    for at in range(0, len(data), wide):
        part = data[at : at + wide]
        text = "".join(chr(each) if 32 <= each < 127 else "." for each in part)
        rows.append(f"{at:08x}  {part.hex(' '):<{3 * wide}} |{text}|\n")
    return "".join(rows)


def object_of(at: int, one: Sent) -> dict[str, object]:
    """A message as a JSON object."""
    return {"index": at, "time_s": one.time_s, "sop": one.sop, "data": one.whole.hex()}


def us_object(at: int, one: Sent) -> dict[str, object]:
    """A message as another one."""
    return {
        "timestamp_us": us(one.time_s),
        "ordered_set": one.sop,
        "type": one.name,
        "bytes": list(one.raw),
        "crc": "0x" + one.crc[::-1].hex(),
    }


def markdown(sent: Sequence[Sent]) -> str:
    """A table as Markdown has it."""
    rows = [
        f"| {at} | {one.time_s:.6f} | {one.sop} | {one.name} | `{spaced(one.whole)}` |\n" for at, one in enumerate(sent)
    ]
    return "| # | Time (s) | SOP | Message | Data |\n|---|---:|:---|---|---|\n" + "".join(rows)


_SOP_NUMBER = {"SOP": "SOP0", "SOP'": "SOP1", "SOP''": "SOP2"}
SYNC = {"SOP": "SYNC1 SYNC1 SYNC1 SYNC2", "SOP'": "SYNC1 SYNC1 SYNC3 SYNC3", "SOP''": "SYNC1 SYNC3 SYNC1 SYNC3"}

DRESSES: dict[str, Callable[[Sequence[Sent]], str | bytes]] = {
    "plain": lines(lambda at, s: f"{s.time_s:.6f} {s.sop} {spaced(s.whole)}"),
    "brackets": lines(lambda at, s: f"[{s.time_s:.6f}] {s.sop}: {s.whole.hex()}"),
    "indexed": lines(lambda at, s: f"{at} {s.time_s:.6f} {s.sop} {spaced(s.whole)}"),
    "indexed dot": lines(lambda at, s: f"{at}. {s.time_s:.6f} {s.sop} {spaced(s.whole)}"),
    "csv head": lines(lambda at, s: f"{s.time_s:.6f},{s.sop},{spaced(s.whole)}", "time_s,sop,data\n"),
    "csv ms": lines(lambda at, s: f"{s.time_s * 1e3:.3f},{s.sop},{s.whole.hex()}", "time (ms),sop,data\n"),
    "csv us": lines(lambda at, s: f"{us(s.time_s)},{s.sop},{s.whole.hex()}", "time_us,sop,data\n"),
    "csv us brackets": lines(lambda at, s: f"{us(s.time_s)},{s.sop},{s.whole.hex()}", "Time [us],SOP,Data\n"),
    "csv ns": lines(lambda at, s: f"{us(s.time_s) * 1000},{s.sop},{s.whole.hex()}", "timestamp_ns,sop,data\n"),
    "csv data first": lines(lambda at, s: f"{s.whole.hex()},{s.sop},{s.time_s:.6f}", "data,sop,time_s\n"),
    "csv data first no head": lines(lambda at, s: f"{spaced(s.whole)};{s.sop};{s.time_s:.6f}"),
    "csv length": lines(
        lambda at, s: f"{at},{len(s.whole)},{s.time_s:.6f},{s.sop},{s.whole.hex()}", "index,length,time_s,sop,data\n"
    ),
    "csv length no head": lines(lambda at, s: f"{at},{len(s.whole)},{s.time_s:.6f},{s.sop},{spaced(s.whole)}"),
    "csv crc column": lines(
        lambda at, s: f"{s.time_s:.6f},{s.sop},{spaced(s.raw)},{s.crc.hex()}", "time_s,sop,data,crc\n"
    ),
    "csv crc number": lines(
        lambda at, s: f"{s.time_s:.6f},{s.sop},{spaced(s.raw)},0x{s.crc[::-1].hex().upper()}", "time_s,sop,data,crc\n"
    ),
    "csv crc before": lines(
        lambda at, s: f"{s.time_s:.6f},{s.crc.hex()},{s.sop},{spaced(s.raw)}", "time_s,crc,sop,data\n"
    ),
    "csv crc ok": lines(lambda at, s: f"{s.time_s:.6f},{s.sop},{spaced(s.raw)},OK", "time_s,sop,data,crc\n"),
    "csv header column": lines(
        lambda at, s: (
            f"{s.time_s:.6f},{s.sop},{int.from_bytes(s.raw[:2], 'little'):04X},"
            + " ".join(f"{word:08X}" for word in words_of(s))
        ),
        "time_s,sop,header,objects\n",
    ),
    "csv names": lines(
        lambda at, s: f"{at};{s.time_s:.6f};{'SRC' if s.source else 'SNK'};{s.sop};{s.name};{spaced(s.whole)}",
        "No;Time [s];Direction;SOP;Message;Raw\n",
    ),
    "csv quoted": lines(
        lambda at, s: f'"{at}","{s.time_s:.6f}","{s.sop}","{s.name}","{spaced(s.whole)}"',
        '"No.","Time","Ordered Set","Message","Bytes"\n',
    ),
    "csv byte columns": lines(lambda at, s: f"{s.time_s:.6f},{s.sop}," + ",".join(f"{b:02X}" for b in s.whole)),
    "csv 0x byte columns": lines(lambda at, s: f"{s.time_s:.6f},{s.sop}," + ",".join(f"0x{b:02X}" for b in s.whole)),
    "csv decimal comma": lines(
        lambda at, s: f"{s.time_s:.6f}".replace(".", ",") + f";{s.sop};{spaced(s.whole)}", "Zeit [s];SOP;Daten\n"
    ),
    "tsv": lines(lambda at, s: f"{s.time_s:.6f}\t{s.sop}\t{spaced(s.whole)}", "Time\tSOP\tData\n"),
    "len": lines(lambda at, s: f"{s.time_s:.6f} {s.sop} len={len(s.whole)} {spaced(s.whole)}"),
    "len brackets": lines(lambda at, s: f"{s.time_s:.6f} {s.sop} [{len(s.whole)}] {spaced(s.whole)}"),
    "len paren": lines(lambda at, s: f"{s.time_s:.6f} {s.sop} ({len(s.whole)} bytes) {spaced(s.whole)}"),
    "crc equals": lines(lambda at, s: f"{s.time_s:.6f} {s.sop} {spaced(s.raw)} CRC=0x{s.crc[::-1].hex().upper()}"),
    "crc equals wire": lines(lambda at, s: f"{s.time_s:.6f} {s.sop} {spaced(s.raw)} CRC=0x{s.crc.hex().upper()}"),
    "crc colon": lines(lambda at, s: f"{s.time_s:.6f} {s.sop} {spaced(s.raw)} CRC: {s.crc[::-1].hex()}"),
    "crc ok": lines(lambda at, s: f"{s.time_s:.6f} {s.sop} {spaced(s.raw)} CRC OK"),
    "crc ok whole": lines(lambda at, s: f"{s.time_s:.6f} {s.sop} {spaced(s.whole)} CRC OK"),
    "crc paren": lines(lambda at, s: f"{s.time_s:.6f} {s.sop} {spaced(s.whole)} (CRC ok)"),
    "ms unit": lines(lambda at, s: f"{s.time_s * 1e3:.3f} ms {s.sop} {s.whole.hex()}"),
    "us unit": lines(lambda at, s: f"{us(s.time_s)}us {s.sop} {s.whole.hex()}"),
    "iso": lines(lambda at, s: f"{iso(s.time_s)} {s.sop} {s.whole.hex()}"),
    "iso z": lines(lambda at, s: f"{iso(s.time_s, 'Z')} {s.sop} {s.whole.hex()}"),
    "iso csv": lines(lambda at, s: f"{iso(s.time_s, '+01:00')},{s.sop},{s.whole.hex()}", "timestamp,sop,data\n"),
    "clock": lines(lambda at, s: f"{iso(s.time_s)[11:]} {s.sop} {s.whole.hex()}"),
    "deltas": deltas,
    "bare us": lines(lambda at, s: f"{us(s.time_s)} {s.sop} {s.whole.hex()}"),
    "names before": lines(lambda at, s: f"{s.time_s:.6f} {s.sop} {s.name} {spaced(s.whole)}"),
    "names spaced": lines(lambda at, s: f"{s.time_s:.6f} {s.sop} {s.name.replace('_', ' ')}: {spaced(s.whole)}"),
    "names camel": lines(lambda at, s: f"{s.time_s:.6f} {s.sop} {s.name.replace('_', '')} {spaced(s.whole)}"),
    "names id": lines(lambda at, s: f"{s.time_s:.6f} {s.sop} {s.name} id={(s.raw[1] >> 1) & 7} {spaced(s.whole)}"),
    "names after": lines(lambda at, s: f"{s.time_s:.6f} {s.sop} {spaced(s.whole)}  {s.name}"),
    "names dash": lines(lambda at, s: f"{s.time_s:.6f} {s.sop} {spaced(s.whole)} - {s.name}"),
    "arrow": lines(
        lambda at, s: f"{s.time_s:.6f} {'SRC -> SNK' if s.source else 'SNK -> SRC'} {s.sop} {spaced(s.whole)}"
    ),
    "tx rx": lines(lambda at, s: f"{s.time_s:.6f} {'TX' if s.source else 'RX'} {s.sop} {spaced(s.whole)}"),
    "key value": lines(lambda at, s: f"t={s.time_s:.6f} sop={s.sop} data={s.whole.hex()}"),
    "key value us": lines(lambda at, s: f"time_us={us(s.time_s)}, type={s.name}, sop={s.sop}, raw={spaced(s.whole)}"),
    "eop": lines(lambda at, s: f"{s.time_s:.6f} {s.sop} {spaced(s.whole)} EOP"),
    "sync": lines(lambda at, s: f"{s.time_s:.6f} {SYNC[s.sop]} {spaced(s.whole)} EOP"),
    "sync dashes": lines(
        lambda at, s: f"{s.time_s:.6f} Preamble {SYNC[s.sop].replace('SYNC', 'Sync-')} {spaced(s.whole)} EOP"
    ),
    "sop numbers": lines(lambda at, s: f"{s.time_s:.6f} {_SOP_NUMBER[s.sop]} {spaced(s.whole)}"),
    "sop star": lines(lambda at, s: f"{s.time_s:.6f} {s.sop.replace(chr(39), '_PRIME')} {spaced(s.whole)}"),
    "braces": lines(lambda at, s: f"{s.time_s:.6f} {s.sop} {{{', '.join(f'0x{b:02x}' for b in s.whole)}}}"),
    "ansi": lines(lambda at, s: f"\x1b[32m{s.time_s:.6f}\x1b[0m \x1b[1;34m{s.sop}\x1b[0m {spaced(s.whole)}"),
    "utf-16": lambda sent: (
        "\ufeff" + str(lines(lambda at, s: f"{s.time_s:.6f} {s.sop} {spaced(s.whole)}")(sent))
    ).encode("utf-16-le"),
    "utf-16 be": lambda sent: (
        "\ufeff" + str(lines(lambda at, s: f"{s.time_s:.6f} {s.sop} {spaced(s.whole)}")(sent))
    ).encode("utf-16-be"),
    "crlf": lambda sent: str(lines(lambda at, s: f"{s.time_s:.6f} {s.sop} {spaced(s.whole)}\r")(sent)),
    "json array": lambda sent: json.dumps([object_of(at, one) for at, one in enumerate(sent)]),
    "json pretty": lambda sent: json.dumps([us_object(at, one) for at, one in enumerate(sent)], indent=2),
    "json packets": lambda sent: json.dumps({"packets": [object_of(at, one) for at, one in enumerate(sent)]}, indent=1),
    "json lines": lines(lambda at, s: json.dumps(object_of(at, s))),
    "json lines us": lines(lambda at, s: json.dumps(us_object(at, s))),
    "json bare": lambda sent: json.dumps([one.whole.hex() for one in sent]),
    "json ints": lambda sent: json.dumps([list(one.whole) for one in sent]),
    "markdown": markdown,
    "python bytes": lines(lambda at, s: f"    ({s.time_s!r}, {s.sop!r}, {s.whole!r}),"),
    "python bytes bare": lines(lambda at, s: f"{s.whole!r}"),
    "python repr list": lambda sent: "packets = [" + ", ".join(repr(one.whole) for one in sent) + "]\n",
    "hexdump blocks": lambda sent: "\n".join(hexdump(one.whole) for one in sent),
    "hexdump headed": lambda sent: "\n".join(f"{one.time_s:.6f} {one.sop}\n{hexdump(one.whole)}" for one in sent),
    "raw": lambda sent: b"".join(one.whole for one in sent),
    "padded table": lines(
        lambda at, s: f"{at:>5}  {s.time_s:>12.6f}  {s.sop:<6} {len(s.whole):>4}  {s.name:<24} {spaced(s.whole)}",
        "   No          Time  SOP     Len  Message                  Data\n",
    ),
    "pipes": lines(lambda at, s: f"{at:>4} | {s.time_s:.6f} | {s.sop} | {s.name} | {spaced(s.whole)}"),
    "upper h": lines(lambda at, s: f"{s.time_s:.6f} {s.sop} " + " ".join(f"{b:02X}h" for b in s.whole)),
    "header and words": lines(
        lambda at, s: (
            f"{s.time_s:.6f} {s.sop} 0x{int.from_bytes(s.raw[:2], 'little'):04X} "
            + " ".join(f"0x{word:08X}" for word in words_of(s))
        )
    ),
    "head named": lines(
        lambda at, s: (
            f"{s.time_s:.6f} {s.sop} {s.name} HDR=0x{int.from_bytes(s.raw[:2], 'little'):04X} "
            + " ".join(f"OBJ{n}=0x{word:08X}" for n, word in enumerate(words_of(s), 1))
        )
    ),
    "level": lines(lambda at, s: f"[{s.time_s:12.6f}] INFO pd: {s.sop} {spaced(s.whole)}"),
    "printk": lines(lambda at, s: f"[{s.time_s:12.6f}] usb: {s.sop} rx {s.whole.hex()}"),
}
"""Every dress by name."""

TIMELESS = {"json bare", "json ints", "python bytes bare", "python repr list", "hexdump blocks", "raw"}
SOPLESS = TIMELESS
NO_UNIT = {"bare us"}
"""Dresses without times; without ordered sets; with times whose unit nobody can know."""
