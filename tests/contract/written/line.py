"""The line as the standard has it: headers, CRC, times on the wire, GoodCRCs, retries; one row a packet."""

from __future__ import annotations

import random
import struct
import zlib
from dataclasses import dataclass, field

# Code points of PD R3.2 V1.1, Tables 6.5, 6.6 and 6.53.
CONTROL = {
    "GoodCRC": 1, "GotoMin": 2, "Accept": 3, "Reject": 4, "Ping": 5, "PS_RDY": 6, "Get_Source_Cap": 7,
    "Get_Sink_Cap": 8, "DR_Swap": 9, "PR_Swap": 10, "VCONN_Swap": 11, "Wait": 12, "Soft_Reset": 13, "Data_Reset": 14,
    "Data_Reset_Complete": 15, "Not_Supported": 16, "Get_Source_Cap_Extended": 17, "Get_Status": 18, "FR_Swap": 19,
    "Get_PPS_Status": 20, "Get_Country_Codes": 21, "Get_Sink_Cap_Extended": 22, "Get_Source_Info": 23,
    "Get_Revision": 24,
}  # fmt: skip
DATA = {
    "Source_Capabilities": 1, "Request": 2, "BIST": 3, "Sink_Capabilities": 4, "Battery_Status": 5, "Alert": 6,
    "Get_Country_Info": 7, "Enter_USB": 8, "EPR_Request": 9, "EPR_Mode": 10, "Source_Info": 11, "Revision": 12,
    "Vendor_Defined": 15,
}  # fmt: skip
EXTENDED = {
    "Source_Capabilities_Extended": 1, "Status": 2, "Get_Battery_Cap": 3, "Get_Battery_Status": 4,
    "Battery_Capabilities": 5, "Get_Manufacturer_Info": 6, "Manufacturer_Info": 7, "Security_Request": 8,
    "Security_Response": 9, "PPS_Status": 12, "Country_Info": 13, "Country_Codes": 14,
    "Sink_Capabilities_Extended": 15, "Extended_Control": 16, "EPR_Source_Capabilities": 17,
    "EPR_Sink_Capabilities": 18, "Vendor_Defined_Extended": 30,
}  # fmt: skip
REVISION = {"2.0": 1, "3.x": 2}
CHUNK = 26


@dataclass
class Row:
    """One packet: when it begins [s], its ordered set, its bytes without CRC (empty for a reset)."""

    time_s: float
    sop: str
    raw: bytes
    crc_off: int = 0

    @property
    def good_crc(self) -> bool:
        """Whether it is one."""
        return len(self.raw) == 2 and self.raw[0] & 0x1F == 1

    def header(self, clear: int, put: int) -> None:
        """Change bits of the header; the CRC will fit."""
        old = int.from_bytes(self.raw[:2], "little")
        self.raw = ((old & ~clear) | put).to_bytes(2, "little") + self.raw[2:]

    def text(self, digits: int | None) -> str:
        """The line of a log: time in seconds with so many digits, none without."""
        stamp = "" if digits is None else f"{self.time_s:.{digits}f} "
        if not self.raw:
            return f"{stamp}{self.sop}"
        crc = zlib.crc32(self.raw) ^ self.crc_off
        return f"{stamp}{self.sop} {(self.raw + struct.pack('<I', crc)).hex()}"


@dataclass
class Port:
    """A port, or the plug of a cable: its roles, the highest revision it speaks, its pace."""

    source: bool = False
    dfp: bool = False
    revision: str = "3.x"
    plug: bool = False
    bit_rate: float = 300e3
    ids: dict[str, int] = field(default_factory=dict)


class Wire:
    """The CC line with two ports and a cable on it: what they say becomes rows."""

    def __init__(self, chance: random.Random) -> None:
        self.chance = chance
        self.now = chance.uniform(0.1, 3.0)
        self.rows: list[Row] = []
        self.agreed = "3.x"
        self.plug_revision = "3.x"
        self.retry_share = 0.0

    def wait(self, least: float, most: float | None = None) -> None:
        """Time passes [s]."""
        self.now += least if most is None else self.chance.uniform(least, most)

    def put(self, port: Port, sop: str, raw: bytes, *, seen: bool = True) -> Row:
        """One packet, at the bit rate of who sends it; 64 bits of preamble, 20 of ordered set, 5 of EOP."""
        row = Row(self.now, sop, raw)
        if seen:
            self.rows.append(row)
        self.now += (64 + 20 + 10 * (len(raw) + 4) + 5) / port.bit_rate
        return row

    def header(self, port: Port, code: int, count: int, number: int, sop: str, *, extended: bool = False) -> int:
        """A Message Header by the table of its bits."""
        revision = self.agreed if sop == "SOP" else self.plug_revision
        word = code | REVISION[revision] << 6 | number << 9 | count << 12 | extended << 15
        if sop == "SOP":
            return word | port.dfp << 5 | port.source << 8
        return word | port.plug << 8

    def acknowledge(self, port: Port, sop: str, number: int, *, seen: bool = True) -> None:
        """The GoodCRC, tTransmit at most behind the message."""
        self.wait(30e-6, 190e-6)
        word = self.header(port, 1, 0, number, sop)
        if self.chance.random() < 0.5:  # the revision carries no meaning in it
            word = word & ~0xC0 | self.chance.choice((0, 1, 2)) << 6
        self.put(port, sop, word.to_bytes(2, "little"), seen=seen)

    def send(self, port: Port, to: Port | None, raw_of: object, sop: str = "SOP", *, tries: int | None = None) -> Row:
        """A message with its tries, each without a GoodCRC but the last; nobody acknowledges where ``to`` is nobody."""
        number = port.ids.get(sop, 0)
        raw = raw_of(number)  # type: ignore[operator]
        again = 0
        if tries is None and to is not None and not port.plug and self.chance.random() < self.retry_share:
            again = self.chance.randint(1, 2)
        if tries is not None:
            again = tries - 1
        first = self.put(port, sop, raw)
        for _ in range(again):
            lost = to is not None and self.chance.random() < 0.5
            before = self.now
            if lost:  # the GoodCRC went out, and the sender did not hear it
                self.acknowledge(to, sop, number)  # type: ignore[arg-type]
            # tReceive and then tRetry, counted from the end of the message.
            self.now = max(
                self.now + 25e-6, before + self.chance.uniform(0.9e-3, 1.1e-3) + self.chance.uniform(0, 195e-6)
            )
            self.put(port, sop, raw)
        if to is not None:
            self.acknowledge(to, sop, number)
        port.ids[sop] = (number + 1) % 8
        return first

    def say(
        self,
        port: Port,
        to: Port | None,
        name: str,
        words: tuple[int, ...] = (),
        sop: str = "SOP",
        *,
        tries: int | None = None,
    ) -> Row:
        """A control or a data message."""
        code = DATA[name] if words else CONTROL[name]

        def raw(number: int) -> bytes:
            word = self.header(port, code, len(words), number, sop)
            return struct.pack(f"<H{len(words)}I", word, *words)

        return self.send(port, to, raw, sop, tries=tries)

    def chunk(
        self,
        port: Port,
        to: Port,
        name: str,
        data: bytes,
        size: int,
        number: int,
        sop: str = "SOP",
        *,
        asks: bool = False,
    ) -> Row:
        """One chunk, or the request for one."""
        inner = 0x8000 | number << 11 | asks << 10 | (0 if asks else size)
        body = struct.pack("<H", inner) + data
        body += bytes(-len(body) % 4)

        def raw(identity: int) -> bytes:
            word = self.header(port, EXTENDED[name], len(body) // 4, identity, sop, extended=True)
            return struct.pack("<H", word) + body

        return self.send(port, to, raw, sop)

    def tell(self, port: Port, to: Port, name: str, data: bytes) -> list[Row]:
        """An extended message in as many chunks as it takes, each but the first asked for."""
        rows: list[Row] = []
        for number, start in enumerate(range(0, max(1, len(data)), CHUNK)):
            if number:
                self.wait(0.3e-3, 14e-3)
                rows.append(self.chunk(to, port, name, b"", 0, number, asks=True))
                self.wait(0.3e-3, 14e-3)
            rows.append(self.chunk(port, to, name, data[start : start + CHUNK], len(data), number))
        return rows

    def unchunked(self, port: Port, to: Port, name: str, data: bytes) -> Row:
        """An extended message in one piece."""

        def raw(identity: int) -> bytes:
            word = self.header(port, EXTENDED[name], 0, identity, "SOP", extended=True)
            return struct.pack("<HH", word, len(data)) + data

        return self.send(port, to, raw)
