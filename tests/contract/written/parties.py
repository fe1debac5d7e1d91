"""Two ports that keep to the standard in all they do: attach, contracts, questions, swaps, EPR mode, resets, replugs.

Order and times are those of PD R3.2 V1.1 as its public text has them (message sequences, Tables 6.68, 6.70, 7.23 to
7.25), swaps' timers from memory of the same text; nothing is taken from the program under test.
"""

from __future__ import annotations

from tests.contract.written.line import Port, Row, Wire

MS = 1e-3


def fixed(mv: int, ma: int, flags: int = 0) -> int:
    """A fixed supply; ``flags`` are bits 29..23 of the first object."""
    return flags | mv // 50 << 10 | ma // 10


def pps(low_mv: int, high_mv: int, ma: int) -> int:
    """A programmable supply."""
    return 3 << 30 | high_mv // 100 << 17 | low_mv // 100 << 8 | ma // 50


def spr_avs(ma_15: int, ma_20: int) -> int:
    """An adjustable supply of the SPR range."""
    return 3 << 30 | 2 << 28 | ma_15 // 10 << 10 | ma_20 // 10


def epr_avs(low_mv: int, high_mv: int, watts: int) -> int:
    """An adjustable supply of the EPR range."""
    return 3 << 30 | 1 << 28 | high_mv // 100 << 17 | low_mv // 100 << 8 | watts


def variable(low_mv: int, high_mv: int, ma: int) -> int:
    """A variable supply."""
    return 2 << 30 | high_mv // 50 << 20 | low_mv // 50 << 10 | ma // 10


def battery(low_mv: int, high_mv: int, mw: int) -> int:
    """A battery."""
    return 1 << 30 | high_mv // 50 << 20 | low_mv // 50 << 10 | mw // 250


DUAL_POWER, DUAL_DATA, COMMUNICATES, UNCONSTRAINED, UNCHUNKED, EPR_CAPABLE = (
    1 << bit for bit in (29, 25, 26, 27, 24, 23)
)


class Session:
    """One attach from the first word on; ``wire`` goes on from the one before."""

    def __init__(self, wire: Wire, *, kind: str, cable: str, sink_revision: str = "3.x", quick: bool = False) -> None:
        chance = self.chance = wire.chance
        self.wire, self.kind, self.cable_kind = wire, kind, cable
        self.source = Port(
            source=True, dfp=True, revision="2.0" if kind == "old" else "3.x", bit_rate=chance.uniform(275e3, 325e3)
        )
        self.sink = Port(revision=sink_revision, bit_rate=chance.uniform(275e3, 325e3))
        self.plug = Port(plug=True, bit_rate=chance.uniform(275e3, 325e3))
        self.far = Port(plug=True, bit_rate=chance.uniform(275e3, 325e3))
        self.vconn = self.source
        self.epr = False
        self.contract: tuple[int, int, int] | None = None  # position, mV, word of the offer
        self.known = False  # whether the cable gave its identity
        self.quick = quick
        self.list: list[int] = []
        self.give_back = False
        self.unchunked = False
        self.was_request = wire.now
        self.epr_withdrawn = False

    # ---- times

    def answer(self) -> None:
        """tReceiverResponse, from the end of the GoodCRC."""
        self.wire.wait(0.2 * MS, 3 * MS) if self.quick or self.chance.random() < 0.7 else self.wire.wait(
            3 * MS, 14.5 * MS
        )

    def idle(self, least: float, most: float) -> None:
        """Nobody asks for anything; what has to be said all the same is said."""
        end = self.wire.now + self.chance.uniform(least, most)
        while self.epr and self.wire.now < end:
            self.wire.wait(0.05, 0.48)
            self.keep_alive()
        while self.on_pps and end - self.was_request > 9.0 and not self.epr:
            self.wire.now = max(self.wire.now + 20 * MS, min(end, self.was_request + self.chance.uniform(3.0, 9.8)))
            self.ask()
        self.wire.now = max(self.wire.now, end)

    @property
    def on_pps(self) -> bool:
        return self.contract is not None and self.contract[2] >> 28 == 12

    # ---- who says what

    def say(self, who: Port, name: str, *words: int, tries: int | None = None) -> Row:
        return self.wire.say(who, self.other(who), name, words, tries=tries)

    def other(self, who: Port) -> Port:
        return self.sink if who is self.source else self.source

    def tell(self, who: Port, name: str, data: bytes) -> None:
        self.wire.tell(who, self.other(who), name, data)

    def either(self) -> Port:
        return self.chance.choice((self.source, self.sink))

    # ---- attach and cable

    def attach(self) -> None:
        """The cable asked, then capabilities until the sink hears them, then a contract."""
        asks_late = self.cable_kind != "none" and self.chance.random() < 0.25
        if self.cable_kind not in ("none", "captive") and not asks_late:
            self.discover()
            self.wire.wait(1 * MS, 100 * MS)
        self.unheard()
        self.begin()
        if asks_late and self.cable_kind != "captive":
            self.idle(20 * MS, 100 * MS)
            self.discover()
            self.idle(20 * MS, 100 * MS)
            if self.carries > 3000 and self.kind in ("strong", "epr"):
                self.offer()
                self.negotiate()

    def unheard(self) -> None:
        """Capabilities that nobody acknowledges yet: the sink wakes up slowly."""
        if self.chance.random() < 0.25:
            keeps = self.chance.random() < 0.5
            for _ in range(self.chance.randint(1, 4)):
                number = self.source.ids.get("SOP", 0)
                self.make_list()
                self.wire.say(self.source, None, "Source_Capabilities", tuple(self.list), tries=3)
                if keeps:
                    self.source.ids["SOP"] = number
                self.wire.wait(100 * MS, 200 * MS)

    def begin(self, *, anew: bool = True) -> None:
        """Capabilities and a contract; ``anew`` finds the revision that both speak."""
        if anew:
            self.wire.agreed = self.source.revision
        self.offer()
        self.wire.agreed = min(self.source.revision, self.sink.revision)
        self.negotiate()

    @property
    def carries(self) -> int:
        return (
            5000
            if (self.known and self.cable_kind in ("5A", "epr", "old 5A")) or self.cable_kind == "captive"
            else 3000
        )

    def vdm(
        self,
        who: Port,
        command: int,
        kind: int = 0,
        *,
        svid: int = 0xFF00,
        position: int = 0,
        version: int | None = None,
    ) -> int:
        major = version if version is not None else (0 if self.wire.agreed == "2.0" else 1)
        return svid << 16 | 1 << 15 | major << 13 | position << 8 | kind << 6 | command

    def discover(self) -> None:
        """The VCONN source asks the plug on its side who it is."""
        wire, port = self.wire, self.vconn
        new = self.cable_kind not in ("old 3A", "old 5A")
        if self.cable_kind == "unmarked":
            for _ in range(self.chance.randint(1, 5)):
                wire.say(port, None, "Vendor_Defined", (self.vdm(port, 1, version=1),), "SOP'", tries=3)
                wire.wait(41 * MS, 50 * MS)
            return
        if self.cable_kind == "refuses":
            wire.say(port, self.plug, "Vendor_Defined", (self.vdm(port, 1, version=1),), "SOP'")
            self.answer()
            wire.say(self.plug, port, "Vendor_Defined", (self.vdm(self.plug, 1, 2, version=1),), "SOP'")
            return
        if not self.known and self.chance.random() < 0.1:
            wire.say(port, None, "Vendor_Defined", (self.vdm(port, 1, version=1),), "SOP'", tries=3)
            wire.wait(41 * MS, 50 * MS)
        if self.chance.random() < 0.1:
            wire.say(port, self.plug, "Vendor_Defined", (self.vdm(port, 1, version=1),), "SOP'")
            self.answer()
            wire.say(self.plug, port, "Vendor_Defined", (self.vdm(self.plug, 1, 3, version=1),), "SOP'")
            wire.wait(52 * MS, 120 * MS)
        wire.plug_revision = wire.plug_revision if self.known else "3.x" if self.source.revision == "3.x" else "2.0"
        wire.say(port, self.plug, "Vendor_Defined", (self.vdm(port, 1, version=1),), "SOP'")
        self.answer()
        if not new:
            wire.plug_revision = "2.0"
        current = 2 if "5A" in self.cable_kind or self.cable_kind in ("epr", "active") else 1
        header = self.vdm(self.plug, 1, 1, version=1 if new else 0)
        who = (4 if self.cable_kind == "active" else 3) << 27 | 0x1234 | (3 << 21 if new else 0)
        cable = [1 << 28 | 2 << 18 | 2 << 13 | current << 5]
        if self.cable_kind == "epr":
            cable = [1 << 28 | 2 << 18 | 1 << 17 | 2 << 13 | 1 << 11 | 3 << 9 | current << 5 | 1]
        if self.cable_kind == "active":
            cable = [
                1 << 28 | 3 << 21 | 2 << 18 | 2 << 13 | 3 << 11 | current << 5 | 1 << 4 | 1 << 3 | 1,
                60 << 24 | 80 << 16,
            ]
        if self.cable_kind == "old 5A":
            cable = [1 << 28 | 2 << 18 | 2 << 13 | current << 5 | 1 << 4]
        wire.say(self.plug, port, "Vendor_Defined", (header, who, 0, 0x00010002, *cable), "SOP'")
        self.known = True
        if self.cable_kind == "active" and self.chance.random() < 0.6:
            wire.wait(1 * MS, 30 * MS)
            wire.say(port, self.far, "Vendor_Defined", (self.vdm(port, 1, version=1),), "SOP''")
            self.answer()
            wire.say(self.far, port, "Vendor_Defined", (header, who, 0, 0x00010002, *cable), "SOP''")

    # ---- offers and contracts

    def make_list(self, share: float = 1.0) -> None:
        flags = DUAL_POWER | DUAL_DATA | COMMUNICATES if self.kind == "dual" else UNCONSTRAINED
        if self.unchunked:
            flags |= UNCHUNKED
        strong = min(self.carries, round(5000 * share) // 10 * 10)
        plain = min(3000, strong)
        if self.kind in ("dual",):
            words = [fixed(5000, plain, flags), fixed(9000, plain)]
        elif self.kind == "old":
            words = [fixed(5000, plain, flags), fixed(12000, plain), fixed(20000, plain)]
        elif self.kind == "bank":
            words = [
                fixed(5000, plain, flags),
                battery(4500, 9000, round(18000 * share) // 250 * 250),
                variable(10000, 12000, plain),
            ]
        elif self.kind == "pps":
            words = [
                fixed(5000, plain, flags),
                fixed(9000, plain),
                fixed(15000, plain),
                pps(3300, 16000, plain // 50 * 50),
                pps(5000, 21000, plain // 50 * 50),
            ]
        elif self.kind == "avs":
            words = [
                fixed(5000, plain, flags),
                fixed(9000, plain),
                fixed(15000, plain),
                fixed(20000, plain),
                spr_avs(plain, plain),
                pps(5000, 21000, plain // 50 * 50),
            ]
        elif self.kind == "epr":
            words = [
                fixed(5000, plain, flags | EPR_CAPABLE),
                fixed(9000, plain),
                fixed(15000, plain),
                fixed(20000, strong),
            ]
        else:
            words = [fixed(5000, plain, flags), fixed(9000, plain), fixed(15000, plain), fixed(20000, strong)]
        self.list = words

    def make_epr_list(self, *, withdrawn: bool = False) -> None:
        self.make_list()
        plain = [*self.list, *([0] * (7 - len(self.list)))]
        self.list = plain if withdrawn else [*plain, fixed(28000, 5000), epr_avs(15000, 28000, 140)]

    def offer(self, share: float = 1.0) -> None:
        self.make_list(share)
        self.say(self.source, "Source_Capabilities", *self.list)

    def choose(self) -> int:
        """An object, as its position."""
        real = [at for at, word in enumerate(self.list, 1) if word]
        if self.wire.agreed == "2.0":  # which has no augmented objects
            real = [at for at in real if self.list[at - 1] >> 30 != 3]
        return self.chance.choice(real)

    def request(
        self, position: int | None = None, mv: int | None = None
    ) -> tuple[tuple[int, ...], tuple[int, int, int]]:
        """The words that ask for an object, and what they come to."""
        at = self.choose() if position is None else position
        word = self.list[at - 1]
        flags = at << 28 | self.chance.choice((0, 1)) << 24 | (1 << 22 if self.kind == "epr" else 0)
        if self.wire.agreed == "2.0" and self.give_back:
            flags |= 1 << 27
        kind = word >> 30
        if kind == 0:
            most = word & 0x3FF
            amount = self.chance.randint(max(1, most // 2), most)
            second = amount
            if flags >> 27 & 1:
                second = amount // 2
            elif self.chance.random() < 0.1:
                second, flags = min(most + 50, 500), flags | 1 << 26
            got = (word >> 10 & 0x3FF) * 50
            asks = flags | amount << 10 | second
        elif kind in (1, 2):
            most = word & 0x3FF
            asks, got = flags & ~(1 << 27) | most << 10 | most, (word >> 20 & 0x3FF) * 50
        else:
            what = word >> 28 & 3
            if what == 0:
                low, high, step, most = (word >> 8 & 0xFF) * 100, (word >> 17 & 0xFF) * 100, 20, (word & 0x7F) * 50
            elif what == 1:
                low, high, step, most = (word >> 8 & 0xFF) * 100, (word >> 17 & 0x1FF) * 100, 100, 5000
            else:
                low, high, step, most = 9000, 20000, 100, min(word & 0x3FF, word >> 10 & 0x3FF) * 10
            got = self.chance.randrange(low, high + 1, step) if mv is None else mv
            if what == 1:
                most = min(5000, (word & 0xFF) * 1000000 // got // 50 * 50)
            asks = flags & ~(1 << 27) | got // (20 if what == 0 else 25) << 9 | self.chance.randint(1000, most) // 50
        return (asks, word) if self.epr else (asks,), (at, got, word)

    def ask(self, position: int | None = None, mv: int | None = None, *, outcome: str = "Accept") -> None:
        """A request and what the source makes of it."""
        words, wanted = self.request(position, mv)
        name = "EPR_Request" if self.epr else "Request"
        self.say(self.sink, name, *words)
        self.was_request = self.wire.now
        self.answer()
        if outcome != "Accept":
            self.say(self.source, outcome)
            if outcome == "Wait":
                self.idle(101 * MS, 300 * MS) if not self.epr else self.wire.wait(101 * MS, 200 * MS)
                self.ask(position, mv)
            return
        self.say(self.source, "Accept")
        self.settle(wanted)

    def settle(self, wanted: tuple[int, int, int]) -> None:
        """The voltage moves; PS_RDY."""
        old, new = self.contract, wanted
        adjustable = new[2] >> 30 == 3
        if old is not None and adjustable and old[2] == new[2]:
            by = abs(new[1] - old[1])
            if new[2] >> 28 & 3 == 0:
                self.wire.wait(1 * MS, 24 * MS if by <= 500 else 270 * MS)
            else:
                self.wire.wait(1 * MS, 48 * MS if by <= 1000 else 690 * MS)
        else:
            self.wire.wait(27 * MS, 320 * MS if not self.epr else 750 * MS)
        self.say(self.source, "PS_RDY")
        self.contract = wanted

    def negotiate(self) -> None:
        """What follows capabilities."""
        self.answer()
        if self.contract is None and self.chance.random() < 0.1:
            self.ask(1, outcome="Wait")
            return
        self.ask()

    # ---- what is kept up

    def keep_alive(self) -> None:
        self.tell(self.sink, "Extended_Control", b"\x03\0")
        self.answer()
        self.tell(self.source, "Extended_Control", b"\x04\0")
