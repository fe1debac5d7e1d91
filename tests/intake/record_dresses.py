"""Dresses of several rows a message, and those of programs: records, dumps, arrays; taken in with the others."""

from __future__ import annotations

from tests.intake.dresses import hexdump, spaced, us, words_of
from tests.intake.more_dresses import LOST, MORE, add, crc_of, header_of, id_of, ms, rows

# --- indented records
add(
    "yaml",
    lambda sent: "".join(f'- time_us: {us(s.time_s)}\n  sop: "{s.sop}"\n  data: {s.whole.hex()}\n' for s in sent),
)
add(
    "yaml list",
    lambda sent: (
        "packets:\n"
        + "".join(
            f'  - {{t: {s.time_s:.6f}, sop: "{s.sop}", data: [{", ".join(f"0x{b:02x}" for b in s.whole)}]}}\n'
            for s in sent
        )
    ),
)
add(
    "toml records",
    lambda sent: "".join(
        f'[[packet]]\ntime_ms = {ms(s)}\nsop = "{s.sop}"\ndata = "{spaced(s.whole)}"\n\n' for s in sent
    ),
)
add(
    "key value records",
    lambda sent: "".join(
        f"Packet {at}\n  Time: {s.time_s:.6f} s\n  SOP: {s.sop}\n  Data: {spaced(s.whole)}\n\n"
        for at, s in enumerate(sent)
    ),
)
add(
    "heading indented",
    lambda sent: "".join(f"{s.time_s:.6f} {s.sop} {s.name}\n    {spaced(s.whole)}\n" for at, s in enumerate(sent)),
)
add(
    "heading raw label",
    lambda sent: "".join(
        f"[{ms(s)} ms] {s.name} ({s.sop})\n    raw: {spaced(s.whole)}\n    id: {id_of(s)}\n"
        for at, s in enumerate(sent)
    ),
)
add(
    "heading words",
    lambda sent: "".join(
        f"{s.time_s:.6f} {s.sop} {s.name}\n  Header: 0x{header_of(s):04X}\n"
        + "".join(f"  Object {i}: 0x{w:08X}\n" for i, w in enumerate(words_of(s), 1))
        + f"  CRC: 0x{crc_of(s):08X}\n"
        for s in sent
    ),
)
add(
    "wrapped eight",
    lambda sent: "".join(
        f"{s.time_s:.6f} {s.sop} "
        + ("\n" + " " * 16).join(spaced(s.whole[i : i + 8]) for i in range(0, len(s.whole), 8))
        + "\n"
        for s in sent
    ),
)
add(
    "dump headed",
    lambda sent: "".join(
        f"--- packet {at}, {s.sop}, {ms(s)} ms, {len(s.whole)} bytes ---\n{hexdump(s.whole, 8)}"
        for at, s in enumerate(sent)
    ),
)
add(
    "dump colon short",
    lambda sent: "".join(
        f"{s.time_s:.6f} {s.sop}\n"
        + "".join(f"{i:04x}: {spaced(s.whole[i : i + 16])}\n" for i in range(0, len(s.whole), 16))
        + "\n"
        for s in sent
    ),
)
add(
    "dump indented",
    lambda sent: "".join(
        f"{s.time_s:.6f} {s.sop}\n"
        + "".join(f"    0x{i:04x}  {spaced(s.whole[i : i + 8])}\n" for i in range(0, len(s.whole), 8))
        for s in sent
    ),
)
add(
    "dump two groups",
    lambda sent: "".join(
        f"{s.sop} {us(s.time_s)} us\n"
        + "".join(
            f"{i:08x}  {spaced(s.whole[i : i + 8])}  {spaced(s.whole[i + 8 : i + 16])}\n"
            for i in range(0, len(s.whole), 16)
        )
        + "\n"
        for s in sent
    ),
)
add(
    "dump words of 16",
    lambda sent: "".join(
        f"{s.time_s:.6f} {s.sop}\n"
        + "".join(
            f"{i:08x}: "
            + " ".join(s.whole[i + j : i + j + 2].hex() for j in range(0, min(16, len(s.whole) - i), 2))
            + "\n"
            for i in range(0, len(s.whole), 16)
        )
        + "\n"
        for s in sent
    ),
)
add(
    "byte a line",
    lambda sent: "".join(f"{s.time_s:.6f} {s.sop}\n" + "".join(f"{b:02x}\n" for b in s.whole) for s in sent),
)
add(
    "byte a line index",
    lambda sent: "".join(
        f"{s.sop} at {ms(s)} ms\n" + "".join(f"  {i:02d}: 0x{b:02X}\n" for i, b in enumerate(s.whole)) for s in sent
    ),
)
add(
    "byte a line times",
    lambda sent: "".join(
        "".join(f"{s.time_s + i * 27e-6:.6f},0x{b:02X}\n" for i, b in enumerate(s.whole)) for s in sent
    ),
    "sop",
)
# --- programs
rows(
    "c arrays",
    lambda at, s: (
        f"const uint8_t pkt_{at}[] = {{{', '.join(f'0x{b:02X}' for b in s.whole)}}};  // {s.time_s:.6f} s {s.sop}"
    ),
)
rows(
    "rust vec",
    lambda at, s: f'    ({us(s.time_s)}, "{s.sop}", vec![{", ".join(f"0x{b:02x}" for b in s.whole)}]),',
    "let log_us = vec![\n",
    "];\n",
    lost=("unit",),
)
rows("escaped", lambda at, s: f"{s.time_s:.6f} {s.sop} " + "".join(f"\\x{b:02x}" for b in s.whole))
rows("escaped quoted", lambda at, s: f'{s.time_s:.6f},{s.sop},"' + "".join(f"\\x{b:02X}" for b in s.whole) + '"')
rows("fromhex", lambda at, s: f"send({s.time_s:.6f}, \"{s.sop}\", bytes.fromhex('{spaced(s.whole)}'))")
rows("python dict", lambda at, s: repr({"time_us": us(s.time_s), "sop": s.sop, "data": s.whole}))
rows("python dict hex", lambda at, s: repr({"t": round(s.time_s, 6), "sop": s.sop, "hex": s.whole.hex()}))
rows("python tuple", lambda at, s: repr((at, round(s.time_s, 6), s.sop, s.whole.hex())))
rows("dollar", lambda at, s: f"{s.time_s:.6f} {s.sop} " + " ".join(f"${b:02X}" for b in s.whole))
rows("amp h", lambda at, s: f"{s.time_s:.6f} {s.sop} " + " ".join(f"&H{b:02X}" for b in s.whole))
rows("asm db", lambda at, s: "db " + ",".join(f"0{b:02X}h" for b in s.whole) + f" ; {s.time_s:.6f} {s.sop}")
rows("nibbles", lambda at, s: f"{s.time_s:.6f} {s.sop} " + " ".join(s.whole.hex()))
rows("nibbles grouped", lambda at, s: f"{s.time_s:.6f} {s.sop}  " + "  ".join(" ".join(f"{b:02x}") for b in s.whole))
rows("bits", lambda at, s: f"{s.time_s:.6f} {s.sop} " + " ".join(f"{b:08b}" for b in s.whole))
rows("bits prefixed", lambda at, s: f"{s.time_s:.6f} {s.sop} " + " ".join(f"0b{b:08b}" for b in s.whole))
rows("no leading zero bytes", lambda at, s: f"{s.time_s:.6f} {s.sop} " + " ".join(f"0x{b:x}" for b in s.whole))
rows("no leading zero bare", lambda at, s: f"{s.time_s:.6f} {s.sop} " + " ".join(f"{b:x}" for b in s.whole))
# --- words, CRCs, lengths
rows(
    "hdr obj",
    lambda at, s: f"{ms(s)} ms {s.sop} hdr {header_of(s):04x} obj " + " ".join(f"{w:08x}" for w in words_of(s)),
)
rows(
    "name hdr paren",
    lambda at, s: (
        f"{s.time_s:.6f} {s.sop} {s.name} (0x{header_of(s):04X}) " + " ".join(f"{w:08X}" for w in words_of(s))
    ),
)
rows(
    "words crc word",
    lambda at, s: (
        f"{s.time_s:.6f} {s.sop} {header_of(s):04X} "
        + " ".join(f"{w:08X}" for w in words_of(s))
        + f" crc {crc_of(s):08X}"
    ),
)
rows(
    "words all",
    lambda at, s: (
        f"{s.time_s:.6f} {s.sop} {header_of(s):04X} " + " ".join(f"{w:08X}" for w in [*words_of(s), crc_of(s)])
    ),
)
rows(
    "words brackets",
    lambda at, s: (
        f"{s.time_s:.6f} {s.sop} [0x{header_of(s):04X}] ["
        + ", ".join(f"0x{w:08X}" for w in words_of(s))
        + f"] [0x{crc_of(s):08X}]"
    ),
)
rows(
    "bracket groups",
    lambda at, s: (
        f"{s.time_s:.6f} [{s.sop}][{spaced(s.raw[:2])}]"
        + "".join(f"[{spaced(s.raw[i : i + 4])}]" for i in range(2, len(s.raw), 4))
        + f"[{spaced(s.crc)}]"
    ),
)
rows(
    "pipe groups",
    lambda at, s: (
        f"{s.time_s:.6f} {s.sop} {spaced(s.raw[:2])}"
        + "".join(f" | {spaced(s.raw[i : i + 4])}" for i in range(2, len(s.whole), 4))
    ),
)
rows(
    "other lines",
    lambda at, s: (
        ("" if at % 3 else f"{s.time_s:.6f} state: ready, temp=41.5\n") + f"{s.time_s:.6f} {s.sop} {spaced(s.whole)}"
    ),
    lost=("remarks",),
)
rows(
    "vbus lines eq",
    lambda at, s: (
        f"{s.time_s:.6f} {s.sop} {spaced(s.whole)}"
        + ("" if at % 3 else f"\n{s.time_s + 0.0001:.6f} VBUS=5.02V IBUS=0.03A")
    ),
)
rows(
    "vbus lines mv",
    lambda at, s: (
        f"{us(s.time_s)} us {s.sop} {spaced(s.whole)}"
        + ("" if at % 3 else f"\n{us(s.time_s) + 100} us vbus: 5020 mV, 30 mA")
    ),
)
rows(
    "vbus lines hash",
    lambda at, s: f"{ms(s)} ms {s.sop} {spaced(s.whole)}" + ("" if at % 3 else f"\n# {ms(s)} ms 5.02 V 0.03 A"),
)

__all__ = ["LOST", "MORE"]
