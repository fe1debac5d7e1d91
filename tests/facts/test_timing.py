"""Timers against a list typed a second time, in milliseconds, and the relations between them."""

import pytest

from pdcheck.facts.timing import COUNTERS, EPR, TIMERS, timer

# name, least, greatest, in ms; written from the table text and not from the module.
TYPED = """
tTypeCSinkWaitCap 310 620
tTypeCSendSourceCap 100 200
tFirstSourceCap - 250
tReceiverResponse - 15
tSenderResponse 27 33
tSinkRequest 100 -
tSrcTransition 25 35
tSrcReady - 285
tSrcReady_EPR - 720
tSrcTransReq - 325
tSrcTransReq_EPR - 760
tPpsSrcTransSmall - 25
tPpsSrcTransLarge - 275
tAvsSrcTransSmall - 50
tAvsSrcTransLarge - 700
tPSTransition 450 550
tPSTransition_EPR 830 1020
tSnkStdby - 15
tSnkNewPower - 15
tPSHardReset 25 35
tSafe0V - 650
tSafe5V - 275
tSrcRecover 660 1000
tSrcRecover_EPR 1085 1425
tSrcTurnOn - 275
tNoResponse 4500 5500
tPPSRequest - 10000
tPPSTimeout 12000 15000
tEnterEPR 450 550
tSinkEPRKeepAlive 250 500
tSourceEPRKeepAlive 750 1000
tTransmit - 0.195
tReceive 0.9 1.1
tRetry - 0.195
tInterFrameGap 0.025 -
tSinkTx 16 20
tHardResetComplete 4 5
tDiscoverIdentity 40 50
tVDMSenderResponse 24 30
tVDMBusy 50 -
tChunkSenderRequest 24 30
tChunkSenderResponse 24 30
tChunkReceiverRequest - 15
tChunkReceiverResponse - 15
tChunkingNotSupported 40 50
tSenderResponse_older 24 30
tSrcTransient - 5
tSrcTransient_light - 150
tCCDebounce 100 200
tPSSourceOff 750 920
tPSSourceOff_EPR 1120 1400
tPSSourceOn 390 480
tSwapSourceStart 20 -
tVCONNSourceOn - 50
tVCONNSourceOn_older - 100
tVDMReceiverResponse - 15
tVDMEnterMode - 25
tVDMExitMode - 25
"""
ROWS = [line.split() for line in TYPED.strip().splitlines()]


@pytest.mark.parametrize(("name", "least", "greatest"), ROWS, ids=[row[0] for row in ROWS])
def test_timer(name, least, greatest):
    row = TIMERS[name.replace("_", " ")]
    assert row.unit == "s"
    assert row.min == (None if least == "-" else pytest.approx(float(least) / 1e3, rel=1e-12))
    assert row.max == (None if greatest == "-" else pytest.approx(float(greatest) / 1e3, rel=1e-12))


def test_no_timer_stands_that_is_not_listed_here():
    assert set(TIMERS) == {row[0].replace("_", " ") for row in ROWS}


def test_every_timer_says_when_it_holds():
    assert all(row.note for row in TIMERS.values())


def test_counters():
    assert {name: limit.value for name, limit in COUNTERS.items()} == {
        "nHardResetCount": 2,
        "nCapsCount": 50,
        "nRetryCount": 2,
        "nRetryCount R2.0": 3,
        "nRetryCount cable plug": 0,
        "nDiscoverIdentityCount": 20,
        "nBusyCount": 5,
    }
    assert COUNTERS["nRetryCount R2.0"].origin.mark == "memory"


def test_the_waits_outlast_what_they_wait_for():
    # What one side may take must end before the other side gives up, or no exchange could ever be sure.
    for epr in (False, True):
        assert timer("tSrcTransReq", epr=epr).max < timer("tPSTransition", epr=epr).min
        assert timer("tSrcTransition").max + timer("tSrcReady", epr=epr).max < timer("tSrcTransReq", epr=epr).max + 1e-9
    assert timer("tReceiverResponse").max < TIMERS["tSenderResponse older"].min
    assert timer("tPPSRequest").max < timer("tPPSTimeout").min
    assert timer("tSinkEPRKeepAlive").max < timer("tSourceEPRKeepAlive").min
    assert timer("tTransmit").max < timer("tReceive").min
    assert timer("tTypeCSendSourceCap").max < timer("tTypeCSinkWaitCap").min


def test_boundaries_are_the_floats_that_are_printed():
    assert timer("tSenderResponse").max == 0.033
    assert timer("tReceiverResponse").max == 0.015
    assert timer("tTransmit").max == 0.000195


def test_unknown_timer():
    with pytest.raises(KeyError):
        timer("tNever")
    assert EPR == " EPR"
