"""Every timer and counter of the standard that is used here, once: ``TIMERS["tSenderResponse"]``, in seconds."""

from __future__ import annotations

from pdcheck.facts.origin import Limit, Origin, Range, checked

PD_TIMERS = checked("Tables 5.18, 6.68, 6.70, 7.23 to 7.25")
PD_COUNTERS = checked("Tables 6.68 and 6.70")
OLDER_SENDER_RESPONSE = Origin("PD before R3.1 V1.6", "checked")
REVISION_2_0 = Origin("PD R2.0", "memory")
FROM_MEMORY = Origin("PD R3.2 V1.1, timers of swaps and of vendor messages", "memory")
TYPE_C_DEBOUNCE = Origin("Type-C, CC timing", "memory")

EPR = " EPR"
"""Ends the key of the EPR variant of a timer that has two: ``TIMERS["tSrcReady" + EPR]``."""

_US = 1e-6
_MS = 1e-3


def _rows() -> tuple[Range, ...]:
    def row(
        name: str, least: float | None, greatest: float | None, scale: float, note: str, origin: Origin = PD_TIMERS
    ) -> Range:
        # Rounded, since 33 * 1e-3 is not the nearest float to 0.033 and a boundary must be where it is printed.
        low = None if least is None else round(least * scale, 9)
        high = None if greatest is None else round(greatest * scale, 9)
        return Range(name, low, None, high, "s", origin, note)

    return (
        # the line
        row("tTransmit", None, 195, _US, "last bit of a message to the first bit of its GoodCRC"),
        row("tReceive", 0.9, 1.1, _MS, "wait for a GoodCRC"),
        row("tRetry", None, 195, _US, "from the end of tReceive to the next try"),
        row("tInterFrameGap", 25, None, _US, "between two frames"),
        row("tSinkTx", 16, 20, _MS, "from Rp at 3 A back to a message of the source's"),
        # attach and first capabilities
        row("tFirstSourceCap", None, 250, _MS, "VBUS at vSafe5V to the first Source_Capabilities"),
        row("tTypeCSendSourceCap", 100, 200, _MS, "between unanswered Source_Capabilities"),
        row("tTypeCSinkWaitCap", 310, 620, _MS, "wait for Source_Capabilities before a Hard Reset"),
        row("tNoResponse", 4500, 5500, _MS, "without an answer after a Hard Reset"),
        row("tDiscoverIdentity", 40, 50, _MS, "between Discover Identity sent to a cable plug"),
        # question and answer
        row("tReceiverResponse", None, 15, _MS, "question to answer"),
        row("tSenderResponse", 27, 33, _MS, "wait for an answer"),
        row("tSinkRequest", 100, None, _MS, "after Wait, before asking again"),
        row("tVDMSenderResponse", 24, 30, _MS, "wait for the answer to a structured vendor message"),
        row("tVDMBusy", 50, None, _MS, "after BUSY, before asking again"),
        row("tChunkSenderRequest", 24, 30, _MS, "wait for the request of the next chunk"),
        row("tChunkSenderResponse", 24, 30, _MS, "wait for the next chunk that was requested"),
        row("tChunkReceiverRequest", None, 15, _MS, "chunk to the request of the next"),
        row("tChunkReceiverResponse", None, 15, _MS, "chunk request to the chunk"),
        row("tChunkingNotSupported", 40, 50, _MS, "before Not_Supported answers a first chunk"),
        # from Accept to the new voltage
        row("tSrcTransition", 25, 35, _MS, "Accept to the start of the transition; none within one PPS or AVS object"),
        row("tSrcReady", None, 285, _MS, "SPR: start of the transition to PS_RDY"),
        row("tSrcReady" + EPR, None, 720, _MS, "EPR: start of the transition to PS_RDY"),
        row("tSrcTransReq", None, 325, _MS, "SPR: Accept to PS_RDY"),
        row("tSrcTransReq" + EPR, None, 760, _MS, "EPR: Accept to PS_RDY"),
        row("tPSTransition", 450, 550, _MS, "SPR: wait for PS_RDY"),
        row("tPSTransition" + EPR, 830, 1020, _MS, "EPR: wait for PS_RDY"),
        row("tPpsSrcTransSmall", None, 25, _MS, "PPS step up to vPpsSmallStep"),
        row("tPpsSrcTransLarge", None, 275, _MS, "PPS step beyond vPpsSmallStep"),
        row("tAvsSrcTransSmall", None, 50, _MS, "AVS step up to vAvsSmallStep"),
        row("tAvsSrcTransLarge", None, 700, _MS, "AVS step beyond vAvsSmallStep"),
        row("tSnkStdby", None, 15, _MS, "Accept to the sink at iSnkStdby"),
        row("tSnkNewPower", None, 15, _MS, "PS_RDY to the sink at its new load"),
        row("tSrcTransient", None, 5, _MS, "outside vSrcNew, within vSrcValid, from 60 mA up"),
        row("tSrcTransient light", None, 150, _MS, "outside vSrcNew, within vSrcValid, below 60 mA"),
        # keeping a contract
        row("tPPSRequest", None, 10, 1.0, "between Requests of a PPS sink"),
        row("tPPSTimeout", 12, 15, 1.0, "without a Request in PPS before a Hard Reset"),
        row("tEnterEPR", 450, 550, _MS, "EPR mode entry, as a whole"),
        row("tSinkEPRKeepAlive", 250, 500, _MS, "between messages of a sink in EPR mode"),
        row("tSourceEPRKeepAlive", 750, 1000, _MS, "without a message in EPR mode before a Hard Reset"),
        # Hard Reset
        row("tHardResetComplete", 4, 5, _MS, "for the Hard Reset to go out"),
        row("tPSHardReset", 25, 35, _MS, "Hard Reset to VBUS going down"),
        row("tSafe0V", None, 650, _MS, "to vSafe0V"),
        row("tSafe5V", None, 275, _MS, "down to vSafe5V"),
        row("tSrcRecover", 660, 1000, _MS, "SPR: VBUS off after a Hard Reset"),
        row("tSrcRecover" + EPR, 1085, 1425, _MS, "EPR: VBUS off after a Hard Reset"),
        row("tSrcTurnOn", None, 275, _MS, "vSafe0V to vSafe5V"),
        # swaps and vendor messages
        row("tPSSourceOff", 750, 920, _MS, "SPR: Accept of a power role swap to VBUS off", FROM_MEMORY),
        row("tPSSourceOff" + EPR, 1120, 1400, _MS, "EPR: Accept of a power role swap to VBUS off", FROM_MEMORY),
        row("tPSSourceOn", 390, 480, _MS, "SPR: old source off to the new one ready", FROM_MEMORY),
        row("tSwapSourceStart", 20, None, _MS, "end of the swap to the first Source_Capabilities", FROM_MEMORY),
        row("tVCONNSourceOn", None, 50, _MS, "Accept of VCONN_Swap to PS_RDY", FROM_MEMORY),
        row("tVCONNSourceOn older", None, 100, _MS, "the same in Revision 2.0", REVISION_2_0),
        row("tVDMReceiverResponse", None, 15, _MS, "structured vendor message to its answer", FROM_MEMORY),
        row("tVDMEnterMode", None, 25, _MS, "Enter Mode to its answer", FROM_MEMORY),
        row("tVDMExitMode", None, 25, _MS, "Exit Mode to its answer", FROM_MEMORY),
        # of other texts
        row("tSenderResponse older", 24, 30, _MS, "before R3.1 V1.6", OLDER_SENDER_RESPONSE),
        row("tCCDebounce", 100, 200, _MS, "CC steady before attach counts", TYPE_C_DEBOUNCE),
    )


TIMERS: dict[str, Range] = {row.name: row for row in _rows()}
"""By the standard's name; where SPR and EPR differ the plain name is SPR's and ``name + EPR`` the other."""

COUNTERS: dict[str, Limit] = {
    limit.name: limit
    for limit in (
        Limit("nHardResetCount", 2, "1", PD_COUNTERS),
        Limit("nCapsCount", 50, "1", PD_COUNTERS),
        Limit("nRetryCount", 2, "1", PD_COUNTERS),
        Limit("nRetryCount R2.0", 3, "1", REVISION_2_0),
        Limit("nRetryCount cable plug", 0, "1", PD_COUNTERS),
        Limit("nDiscoverIdentityCount", 20, "1", PD_COUNTERS),
        Limit("nBusyCount", 5, "1", PD_COUNTERS),
    )
}


def timer(name: str, *, epr: bool = False) -> Range:
    """The row of a timer, in seconds; with ``epr`` the EPR variant where the standard has one.

    Raises KeyError for a name that is not in ``TIMERS``. Source: each row's origin.

    >>> timer("tSenderResponse").max
    0.033
    >>> timer("tSrcReady").max, timer("tSrcReady", epr=True).max, timer("tSafe0V", epr=True).max
    (0.285, 0.72, 0.65)
    """
    if epr and name + EPR in TIMERS:
        return TIMERS[name + EPR]
    return TIMERS[name]
