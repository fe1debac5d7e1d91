"""Further dresses of a known conversation, each made up: tables, records, dumps, programs; and what may be lost."""

from __future__ import annotations

import json
from collections.abc import Callable, Sequence

from tests.intake.dresses import Sent, delta, iso, spaced, us, words_of
from tests.intake.row_dresses import TEMPLATES, fields

Rendered = str | bytes
MORE: dict[str, Callable[[Sequence[Sent]], Rendered]] = {}
"""Every dress by name."""
LOST: dict[str, frozenset[str]] = {}
"""What cannot be known of a dress: ``sop``, ``time``, ``unit``; ``remarks`` are lines that say no message."""


def add(name: str, dress: Callable[[Sequence[Sent]], Rendered], *lost: str) -> None:
    """Take a dress in."""
    assert name not in MORE, name
    MORE[name], LOST[name] = dress, frozenset(lost)


def rows(
    name: str, row: Callable[[int, Sent], str], head: str = "", tail: str = "", lost: tuple[str, ...] = ()
) -> None:
    """A dress of one row a message."""
    add(name, lambda sent: head + "".join(row(at, one) + "\n" for at, one in enumerate(sent)) + tail, *lost)


def objects(
    name: str,
    made: Callable[[int, Sent], object],
    wrap: Callable[[list[object]], object] = list,
    *,
    indent: int | None = None,
    separators: tuple[str, str] | None = None,
) -> None:
    """A dress of one JSON text."""

    def dress(sent: Sequence[Sent]) -> str:
        return json.dumps(wrap([made(at, one) for at, one in enumerate(sent)]), indent=indent, separators=separators)

    add(name, dress)


def object_lines(name: str, made: Callable[[int, Sent], object]) -> None:
    """A dress of one JSON value a line."""
    add(name, lambda sent: "".join(json.dumps(made(at, one)) + "\n" for at, one in enumerate(sent)))


def each(name: str, made: Callable[[Sequence[Sent], int, Sent], str], head: str = "", tail: str = "") -> None:
    """A dress whose records may be of several rows and know the message before."""
    add(name, lambda sent: head + "".join(made(sent, at, one) for at, one in enumerate(sent)) + tail)


def header_of(one: Sent) -> int:
    """The header as a number."""
    return int.from_bytes(one.raw[:2], "little")


def crc_of(one: Sent) -> int:
    """The CRC as a number."""
    return int.from_bytes(one.crc, "little")


def side(one: Sent) -> str:
    """Who sent it."""
    return "SRC" if one.source else "SNK"


def ms(one: Sent) -> str:
    """Milliseconds with three places."""
    return f"{one.time_s * 1e3:.3f}"


def grouped(data: bytes) -> str:
    """Header and words as sent, blanks between them."""
    return data[:2].hex() + "".join(" " + data[at : at + 4].hex() for at in range(2, len(data), 4))


def id_of(one: Sent) -> int:
    """The message id."""
    return (one.raw[1] >> 1) & 7


# --- plain rows, times in many places
rows("abs and delta", lambda at, s: f"{s.time_s:.6f} (+{0.001 * at:.6f}) {s.sop} {spaced(s.whole)}")
add(
    "delta paren ms",
    lambda sent: "".join(f"(+{delta(sent, at) * 1e3:.3f} ms) {s.sop} {spaced(s.whole)}\n" for at, s in enumerate(sent)),
)
add(
    "delta us int",
    lambda sent: "".join(f"+{us(delta(sent, at))}us {s.sop} {spaced(s.whole)}\n" for at, s in enumerate(sent)),
)
add(
    "delta greek",
    lambda sent: "".join(f"Δ{delta(sent, at) * 1e3:.3f}ms {s.sop} {spaced(s.whole)}\n" for at, s in enumerate(sent)),
)
add(
    "delta brackets",
    lambda sent: "".join(f"[+{delta(sent, at):.6f}] {s.sop} {spaced(s.whole)}\n" for at, s in enumerate(sent)),
)
add(
    "delta csv ms",
    lambda sent: (
        "No,Delta (ms),SOP,Data\n"
        + "".join(f"{at},{delta(sent, at) * 1e3:.3f},{s.sop},{spaced(s.whole)}\n" for at, s in enumerate(sent))
    ),
)
add(
    "delta and time csv",
    lambda sent: (
        "dt_us,time_us,sop,hex\n"
        + "".join(f"{us(delta(sent, at))},{us(s.time_s)},{s.sop},{spaced(s.whole)}\n" for at, s in enumerate(sent))
    ),
)
rows("blank thousands us", lambda at, s: f"{us(s.time_s):,}".replace(",", " ") + f" us  {s.sop}  {spaced(s.whole)}")
rows("quote thousands us", lambda at, s: f"{us(s.time_s):,}".replace(",", "'") + f" us  {s.sop}  {spaced(s.whole)}")
add(
    "micro sign latin-1",
    lambda sent: "".join(f"{us(s.time_s)} µs {s.sop} {spaced(s.whole)}\n" for s in sent).encode("latin-1"),
)
add(
    "head micro latin-1",
    lambda sent: (
        "Zeit [µs];SOP;Daten\n" + "".join(f"{us(s.time_s)};{s.sop};{spaced(s.whole)}\n" for s in sent)
    ).encode("latin-1"),
)
rows(
    "ms then s mixed",
    lambda at, s: (f"{ms(s)} ms" if s.time_s < 0.1 else f"{s.time_s:.6f} s") + f" {s.sop} {spaced(s.whole)}",
)
rows(
    "padded clock",
    lambda at, s: f"{us(s.time_s) // 1000:6d}.{us(s.time_s) % 1000:03d} ms  {s.sop:<5} {spaced(s.whole)}",
)
# --- CSV and friends
rows(
    "csv pdo columns",
    lambda at, s: (
        f"{s.time_s:.6f},{s.sop},0x{header_of(s):04X},"
        + ",".join([f"0x{w:08X}" for w in words_of(s)] + [""] * (7 - len(words_of(s))))
    ),
    "time_s,sop,header,DO1,DO2,DO3,DO4,DO5,DO6,DO7\n",
)
rows(
    "csv pdo columns bare",
    lambda at, s: (
        f"{us(s.time_s)};{s.sop};{header_of(s):04X};"
        + ";".join([f"{w:08X}" for w in words_of(s)] + ["-"] * (7 - len(words_of(s))))
    ),
    "time_us;sop;hdr;obj1;obj2;obj3;obj4;obj5;obj6;obj7\n",
)
rows(
    "csv repeated head",
    lambda at, s: ("time_ms,sop,data\n" if at % 5 == 0 else "") + f"{ms(s)},{s.sop},{s.whole.hex()}",
)
rows(
    "csv time quoted comma",
    lambda at, s: f'"{s.time_s:.6f}"'.replace(".", ",") + f',"{s.sop}","{spaced(s.whole)}"',
    "time_s,sop,data\n",
)
rows(
    "csv ms decimal comma",
    lambda at, s: f"{ms(s)}".replace(".", ",") + f";{s.sop};{spaced(s.whole)}",
    "Zeit (ms);SOP;Daten\n",
)
rows("csv decimal comma no head", lambda at, s: f"{s.time_s:.6f}".replace(".", ",") + f";{s.sop};{spaced(s.whole)}")
rows(
    "csv byte cols head",
    lambda at, s: (
        f"{s.time_s:.6f},{s.sop},{len(s.whole)}," + ",".join(f"{b:02X}" for b in s.whole) + "," * (26 - len(s.whole))
    ),
    "time,sop,len," + ",".join(f"b{i}" for i in range(26)) + "\n",
)
rows(
    "csv byte cols D",
    lambda at, s: f"{us(s.time_s)},{s.sop}," + ",".join(f"0x{b:02X}" for b in s.whole),
    "time_us,sop,data...\n",
)
add(
    "csv utf-16",
    lambda sent: (
        "\ufeffTime (us);SOP;Data\r\n" + "".join(f"{us(s.time_s)};{s.sop};{spaced(s.whole)}\r\n" for s in sent)
    ).encode("utf-16-le"),
)
add(
    "utf-16 no mark",
    lambda sent: "".join(f"{s.time_s:.6f} {s.sop} {spaced(s.whole)}\r\n" for s in sent).encode("utf-16-le"),
)
add("cr ends", lambda sent: "".join(f"{s.time_s:.6f} {s.sop} {spaced(s.whole)}\r" for s in sent))
rows(
    "csv kind column",
    lambda at, s: (
        (f"V,{s.time_s:.6f},5.02,0.31\n" if at % 4 == 1 else "") + f"M,{s.time_s:.6f},{s.sop},{s.whole.hex()}"
    ),
    lost=("remarks",),
)
# --- JSON
objects("json time text", lambda at, s: {"time": f"{ms(s)} ms", "sop": s.sop, "data": spaced(s.whole)})
object_lines("json iso", lambda at, s: {"timestamp": iso(s.time_s, "Z"), "sop": s.sop, "hex": s.whole.hex()})
object_lines(
    "json nested",
    lambda at, s: {"event": "packet", "t_ms": float(ms(s)), "packet": {"sop": s.sop, "bytes": list(s.whole)}},
)
objects(
    "json nested array",
    lambda at, s: {"event": "packet", "t_us": us(s.time_s), "packet": {"sop": s.sop, "hex": s.whole.hex()}},
    indent=2,
)
objects(
    "json header objects",
    lambda at, s: {
        "time_us": us(s.time_s),
        "sop": s.sop,
        "header": header_of(s),
        "objects": words_of(s),
        "crc": crc_of(s),
    },
)
objects(
    "json header objects hex",
    lambda at, s: {
        "time_us": us(s.time_s),
        "sop": s.sop,
        "header": f"0x{header_of(s):04x}",
        "objects": [f"0x{w:08x}" for w in words_of(s)],
        "crc": f"0x{crc_of(s):08x}",
    },
    indent=1,
)
objects(
    "json header dict",
    lambda at, s: {
        "time_us": us(s.time_s),
        "sop": s.sop,
        "header": {"type": s.name, "id": id_of(s), "count": len(words_of(s))},
        "raw": s.whole.hex(),
        "crc_ok": True,
    },
)
object_lines("json sop number", lambda at, s: {"t": s.time_s, "sop": len(s.sop) - 3, "data": s.whole.hex()})
object_lines("json rows", lambda at, s: [s.time_s, s.sop, s.whole.hex()])
objects(
    "json rows array",
    lambda at, s: [us(s.time_s), s.sop, s.whole.hex()],
    lambda x: {"columns": ["time_us", "sop", "data"], "rows": x},
)
add(
    "json columns",
    lambda sent: json.dumps(
        {"time_us": [us(s.time_s) for s in sent], "sop": [s.sop for s in sent], "data": [s.whole.hex() for s in sent]}
    ),
)
objects(
    "json deep",
    lambda at, s: {"time_s": s.time_s, "sop": s.sop, "data": s.whole.hex()},
    lambda x: {"capture": {"device": "bench", "rate": 2000000, "messages": x}},
    indent=4,
)
objects(
    "json keys order",
    lambda at, s: {
        "data": [f"{b:02x}" for b in s.whole],
        "len": len(s.whole),
        "type": s.name,
        "sop": s.sop,
        "n": at,
        "elapsed_ms": float(ms(s)),
    },
)
object_lines(
    "json seconds and us",
    lambda at, s: {"sec": us(s.time_s) // 1000000, "usec": us(s.time_s) % 1000000, "sop": s.sop, "data": s.whole.hex()},
)
object_lines("json unit key", lambda at, s: {"time": float(ms(s)), "unit": "ms", "sop": s.sop, "data": s.whole.hex()})
objects(
    "json comma lines", lambda at, s: {"time_s": s.time_s, "sop": s.sop, "data": s.whole.hex()}, separators=(",", ":")
)
object_lines(
    "json vbus",
    lambda at, s: {"time_s": s.time_s, "sop": s.sop, "data": s.whole.hex(), "vbus_mv": 5020, "ibus_ma": 300},
)
object_lines("json text seq", lambda at, s: {"msg": f"{s.sop} {spaced(s.whole)}", "ts": f"{s.time_s:.6f}"})


# --- markdown and drawn tables
def grid(sent, hor="-", ver="|", cross="+"):
    rows = [["time (ms)", "SOP", "data"]] + [[ms(s), s.sop, spaced(s.whole)] for s in sent]
    w = [max(len(r[i]) for r in rows) for i in range(3)]
    rule = cross + cross.join(hor * (x + 2) for x in w) + cross + "\n"
    return (
        rule
        + rule.join(ver + ver.join(f" {c:<{x}} " for c, x in zip(r, w, strict=True)) + ver + "\n" for r in rows)
        + rule
    )


add("grid table", grid)
add("box table", lambda sent: grid(sent, "─", "│", "┼"))
add(
    "markdown us",
    lambda sent: (
        "| Nr | t [µs] | dir | SOP | bytes | CRC |\n|:-:|--:|---|---|:--|---|\n"
        + "".join(
            f"| {at} | {us(s.time_s)} | {side(s)} | {s.sop} | `{spaced(s.raw)}` | 0x{crc_of(s):08X} |\n"
            for at, s in enumerate(sent)
        )
    ),
)
add(
    "markdown titled",
    lambda sent: (
        "# Capture\n\nTaken at the bench.\n\n| time | SOP | frame |\n| --- | --- | --- |\n"
        + "".join(f"| {ms(s)} ms | {s.sop} | {s.whole.hex()} |\n" for s in sent)
        + "\nThat is all.\n"
    ),
    "remarks",
)
add(
    "markdown bold",
    lambda sent: (
        "| **Time (ms)** | **SOP** | **Data** |\n|---|---|---|\n"
        + "".join(f"| {ms(s)} | **{s.sop}** | {spaced(s.whole)} |\n" for s in sent)
    ),
)
add(
    "fenced",
    lambda sent: "Log:\n\n```\n" + "".join(f"{s.time_s:.6f} {s.sop} {spaced(s.whole)}\n" for s in sent) + "```\n",
)
add("quoted mail", lambda sent: "".join(f"> {s.time_s:.6f} {s.sop} {spaced(s.whole)}\n" for s in sent))
add("bullets", lambda sent: "".join(f"- {s.time_s:.6f} s: {s.sop} {spaced(s.whole)}\n" for s in sent))
add(
    "simple rst",
    lambda sent: (
        "=========  ====  ====\nTime [ms]  SOP   Data\n=========  ====  ====\n"
        + "".join(f"{ms(s):>9}  {s.sop:<4}  {spaced(s.whole)}\n" for s in sent)
        + "=========  ====  ====\n"
    ),
)
add(
    "html rows",
    lambda sent: (
        "<table>\n<tr><th>Time (ms)</th><th>SOP</th><th>Data</th></tr>\n"
        + "".join(f"<tr><td>{ms(s)}</td><td>{s.sop}</td><td>{spaced(s.whole)}</td></tr>\n" for s in sent)
        + "</table>\n"
    ),
)
add(
    "xml",
    lambda sent: (
        '<?xml version="1.0"?>\n<capture>\n'
        + "".join(f'  <packet time_us="{us(s.time_s)}" sop="{s.sop}">{s.whole.hex()}</packet>\n' for s in sent)
        + "</capture>\n"
    ),
)


def _templated(row: str, head: str = "", tail: str = "", *_: str) -> Callable[[Sequence[Sent]], Rendered]:
    return lambda sent: head + "".join(row.format(**fields(at, one)) + "\n" for at, one in enumerate(sent)) + tail


for _name, _parts in TEMPLATES.items():
    add(_name, _templated(*_parts), *_parts[3:])
