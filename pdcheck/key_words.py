"""What each key of a document means, by its name, where no property's docstring says it; the unit follows its name."""

from __future__ import annotations

UNITS = {
    "v": "V", "a": "A", "w": "W", "mv": "mV", "ma": "mA", "mw": "mW", "s": "s", "h": "h", "hours": "h", "ohm": "Ω",
    "mohm": "mΩ", "j": "J", "c": "°C", "m": "m", "mm2": "mm²", "m2": "m²", "ah": "Ah", "wh": "Wh", "k": "W/K",
}  # fmt: skip
"""The unit that the last part of a key's name stands for."""

_TEXTS = """
actions: what to do at the bench in this step
advice: what to do about it
after: index of the message before it; -1: none
allowed_v: the least and the greatest voltage that it is rated for
any_cable_w: the power rating that does with any cable
answers: every question with its answer
area_m2: outer surface that gives off heat
around_c: the air around the box
as_set: the least that does with the trigger as it is set
assumed: what was counted with because nobody said it
at_a: the current that it is worked out for
attempt: which try it is, from 0
average_w: the average power
awg: gauge of the conductor (American Wire Gauge number)
before_class: the class of cable that it needed before
before_pdp_w: the power rating that it needed before
best: the best way to share, port by port
blows_up_to_a: the largest fuse that surely blows on what the source can give
bounds: between which figures the cause must lie, in the unit beside them
branch: name of the branch
branches: what becomes of each branch
bus_v: voltage on the bus behind the trigger
but: what speaks against it
by_rules: whether the offers are taken from the standard's power rules
cable: the cable: its id, or what is known of it
cable_class: the class of cable that it needs: 3A, 5A or EPR
capacity: charge that its cells hold
capacity_ah: charge that its cells hold
capture: path of the capture that the offers come from, beside the kit
captured_over: over which cable the offers were captured
cause: what may be wrong
causes: what may be wrong, the likeliest first
cell_v: voltage of the cells
cells: one judgement for each rig, source and cable
cells_wh: energy taken from the cells
certification: the cable's test number (XID)
change: what was done, or what to change
changes: what changed, one by one
channel: the channel of the waveform that was read
charge_ah: the charge
code: name of the problem, for programs
complete: whether the calculation came to its end
computed: CRC that the bytes give, 8 hex digits
construction: how the cable is built
contract: what source and trigger agree on
contracts: what each output gets, contract by contract
converter_in_a: current into the converter
costs: what it costs at each current
count: how many
counts: how many cells came to each verdict
current_15v_ma: greatest current up to 15 V
current_20v_ma: greatest current above 15 V
current_a: the current
current_ma: the current
data: the bytes, in hex
data_role: host or device
decided_by: which of the demands decided
drop_v: the voltage lost on the way
effect: what another port's change does to it
efficiency: share of the energy that comes out, 0 to 1
emarker: whether it has an e-marker
end_s: when it ended
energy: where the energy went
energy_wh: the energy that it holds
enough: when the readings are enough
epr: whether it is made for extended power range
expected: what the meter should show
extended: whether it is an extended message
extremes: the least and the greatest at each node
fallback: what the trigger does without its voltage
fallbacks: what would be needed with each fall-back
fate: what becomes of it
fates: what becomes of each branch
fell_to_v: to which voltage the bus fell when it was measured
file: path of the file
findings: what was judged, each with its reason
findings_more: how many more there are of each kind, where very many are counted alone
first: the first of the two figures, in the unit beside it
five_volts_s: how long the bus is at 5 V
flags: names of the flags that are set
flows_a: the current that flows there
from_v: voltage at its beginning
from_w: from this power rating on
further: what to measure to tell the causes apart
gaps: stretches without samples: from, to and the greatest step [s]
gets: what the branch gets
given: what was stated
good_crc_s: when its GoodCRC came
guessed: whether the answer was a guess
halted: why the steps end early; empty where they do not
headroom: spare current, as a share of the offer, 0 to 1
heat_w: heat given off into the box
hex: its bytes in hex
hold_up_s: how long its capacitors feed it without the bus
hours: how long it runs
id: name of the part in kit or rig
identity: what its Discover Identity answer says
implied: figures that the readings imply
in_hand: the least with which it runs with enough to spare
in_time: what becomes of each branch in the first second
in_time_works: whether all branches come up in the first second
in_use: the ports in use
index: number of the message, from 0
input_v: voltage at the converter's input
inside: whether the reading is inside of what was expected
judges: what the rule judges: a rig or a conversation
kept_back: what was not written back, and why
kind: what kind it is
kinds: the fuses to choose from, by kind
kit: path of the kit file
label: the same as it would be printed on a charger
latency: how long a signal takes through the cable
least: the least that still does
least_a: the least current that keeps the power bank awake
least_awg: the thinnest wire by its gauge
least_copper_mm2: copper that would just be enough
least_mm2: the thinnest wire by its cross-section
led_w: power that the LEDs turn into light and heat
length_m: length, one way
lengths: the longest that each wire size may be
lesser: what happens on a source that offers less
level: how grave it is: stop, fail, warn or note
lights: whether the LEDs light
limit: the limit that it is held against, in the unit beside it
limit_ohm: the greatest loop resistance allowed
limit_v: the greatest drop allowed
limited_by: what limits it, at its worst
limited_by_typ: what limits it, typically
limits: whether it is what limits the rig
limits_current: whether the source limits its current
load_a: current through the load
load_share: share of its load that is switched on, 0 to 1
load_v: voltage at the load
load_w: power at the load
loads_j: energy that each load took
loop_ohm: loop resistance, there and back
loss_w: power lost as heat
losses: power lost as heat, part by part
losses_j: energy lost as heat, part by part
lowest_v: the lowest voltage on the way
max: the greatest, in the unit of the key that holds it
max_a: the greatest current
max_v: the greatest voltage
max_voltage_mv: the greatest voltage that may be asked for
max_w: the greatest power that is sure
messages: the messages
min: the least, in the unit of the key that holds it
min_v: the least voltage
min_voltage_mv: the least voltage that may be asked for
mismatch: whether it says that it needs more than it asks for
moments: what happened, in order of time
more_h: how much longer it would run
name: its name
needs: the figure that it must have for the verdict to hold, in the unit beside it
needed: what it takes, in words
never_above_a: the largest fuse that protects what is behind it
next: the reading that would tell most
node: where in the circuit
nodes: voltage and current, node by node
not_judged: what was not judged because a figure is missing
object_count: how many data objects it holds
objects: its data objects, one by one
off: whether the branch stays off
off_s: how long the bus is without power
offers: what the source offers
ok: whether it is as it should be
old: what stood there before
on: what it was worked out for
optional: whether the reading may be left out
order: which port is plugged in when
orders: what becomes of all, by the order of plugging in
orientation: which way round the plug is in
origin: where the figure or the rule comes from
others: causes that fit less well
outcome: how the agreement came out: as-asked, fallback, type-c or off
output: the output that is wanted
output_v: voltage of the output
output_wh: energy that comes out of the power bank
outside: what it means where the reading is outside
over_v: voltage left over for resistor or driver
own: the port's own table
part: name of the part
partner: what is attached to it
parts: the parts on the way, one by one
past: whether the rating is exceeded
paths: what happens, by the way in which the offers change
pd: whether it speaks Power Delivery
pdp_w: rated power of the source (PDP)
peak_current: code of how much more it gives for a moment, 0 to 3
peak_s: how long the peak lasts
peak_v: the greatest voltage
place: where the fuse goes
places: the fuses, one by one
plug_type: kind of its plug
plugged: what was plugged in
points: what the output can deliver, by its voltage
port: name of the port
ports: the ports, one by one
position: place in the list of offers, from 1
power_mw: the power
power_operation_mode: how the port is powered
power_role: source or sink
power_w: the power
problems: what is odd about it
pps: whether it must offer a programmable supply (PPS)
product_id: product number that it gives
quantity: what is rated: voltage or current
question: what was asked
ran: whether it ran at any time
ranking: the offers, the best first
rated: each rating with what it had to bear
rated_a: the current that it is rated for
rated_ah: charge that it is rated to give
rated_output: charge that it is rated to give, and at which voltage
rated_v: the voltage that it is rated for
raw: all its bytes, in hex
reading: name of the reading
readings: what was measured
reason: why it is so
reasons: why it is so, one by one
request_words: the request in hex, 8 digits a word
resistance_ohm: resistance, there and back
resistor_ohm: the resistor in series
results: one answer for each pair of source and cable
revision: revision of Power Delivery that it follows
revision_from: where the revision is taken from
rig: title or path of the rig
rigs: the rigs, one by one
rule: id of the rule; empty where none is broken
rules: the rules, one by one
runs: whether everything runs
samples: the curves as points
schema: name and number of this document
schemas: the schemas, one by one
second: the second of the two figures, in the unit beside it
lasts_s: how long it lasts
sender: who sent it
sense: whether the figure must be at least or at most so much
setting: what the trigger is set to
settings: what each setting of the trigger gives
settle_by: how the figure can be found: sheet, print, meter or look
share: share of the whole, 0 to 1
shares: how the energy is shared out
shed_w_k: heat that the box sheds
side: which side: source, sink or cable
sink_v: voltage at the far end
sleeps: whether the power bank switches itself off
sleeps_below_a: the current below which it switches itself off
sop: ordered set that the message began with
source: the source: its id, or what is known of it
source_a: current that the source may give
source_j: energy that the source gave
source_v: voltage at the source
source_w: power that the source gives
speed: data rate that the cable is made for
start_s: when it began
starts: how many times it started
starts_on_5v: whether it starts on 5 V, before a contract
state: the state it is in
stated: what was stated about it
stays_cool_a: the current up to which it stays cool
steady: whether nothing changes any more
step: what to do
steps: what happens, step by step
stop: when to stop and unplug
stop_at: the figures from which on to stop: the tightest limit of a part at each place where the meter is
stops: how many times it stopped
stored_j: energy left in capacitors and inductors
subject: the part that it is about
supply_v: the voltage that the string is fed from
supply_w: power taken from the supply
surface_c: surface of the box
table: name of the system's table
takes_w: power that it takes
temp_c: temperature
text: what a person reads
time_s: when it was
timers: timers of the standard that run meanwhile
times: how many times
title: what a person calls it
to: to what it changes
to_v: voltage at its end
to_w: up to this power rating
together: what ports give together
tolerance: tolerance of the source's voltage, as a share of it
total_w: the most that all ports give together
trunk: the parts from source to bus
typ: typically, in the unit of the key that holds it
type: what it is called
typec_current_a: current that it offers at 5 V without Power Delivery
unclaimed: tables of the system that belong to no port
undecoded: packets that could not be decoded
unit: unit of the figures beside it; 1: a share or a count; empty: no figure
unsafe_from_w: from this power rating on it would be unsafe
until_s: up to which time it was calculated
up_to_w: up to this power rating it still does
value: the figure that was judged, in the unit beside it; null where there is none
values_a: the fuse ratings to choose from
vendor_id: vendor number that it gives
verdict: runs, limited, fails or unsafe
vf_v: forward voltage of one LED
voltage_mv: the voltage
voltage_v: the voltage
waste_share: share of the power that is wasted, 0 to 1
waste_w: power that is wasted
way: the way in which it is done
when: when the contract comes about
where: the place
wire: what the wire costs
wire_a: current that the wire carries
wires: the thinnest wire for each place
within: whether it keeps the limit
without: what is left out
word: the word in hex
words: the words in hex, 8 digits each
works: whether all is well; exit code 0
Samples.nodes: by node, each sample: voltage and current [V, A]
FuseChoice.share: share of its rating that it may carry for hours, 0 to 1
Expected.min: the least that the meter should show, in the unit beside it; null: no such end
Expected.typ: what it should show as stated, in the unit beside it
Expected.max: the most that the meter should show, in the unit beside it; null: no such end
Implied.value: the figure, least to most, in the unit beside it
Implied.stated: what was stated of it, least to most, in the unit beside it
Loss.part: source, cable, trigger, or BRANCH/wire, BRANCH/converter, BRANCH/lead
Temperature.part: cable, trigger, or BRANCH/wire, BRANCH/converter, BRANCH/lead
Share.part: as losses name it, and BRANCH/idle, BRANCH/load, source
Node.node: source, bus, or BRANCH/in, BRANCH/out, BRANCH/load
Agreed.index: index of the request
Answer.answer: the answer; null where it is not known
CableReading.current_ma: the current that it may carry
CableReading.voltage_mv: the voltage that it is made for
Cell.not_judged: how many figures were missing
Content.id: MessageID, 0 to 7
Contract.kind: kind of the offer that was taken
Header.id: MessageID, 0 to 7
Header.word: the header in hex, 4 digits
Header.type: name of the message
Entry.type: name of the message, and what it does where a word in it decides that
EncodedMessage.type: name of the message
PacketRecord.type: name of the message
ListedSchema.name: name of the schema
Moment.what: what happened
NotJudged.what: the key that is missing
Offer.kind: kind of the offer
Gap.kind: gap: the place is empty
Problem.where: the object or the field that it is about
Reading.kind: what the word is read as
Step.what: what happens
"""
TEXTS: dict[str, str] = dict(line.split(": ", 1) for line in _TEXTS.strip().splitlines())
"""By the key, or by class and key where it means something else there."""


def key_text(of: str, key: str) -> str | None:
    """What a key of a class means, with its unit; ``None`` where nobody has said.

    >>> key_text("BusReading", "voltage_v"), key_text("Header", "id"), key_text("X", "vf_mohm")
    ('The voltage [V]', 'MessageID, 0 to 7', None)
    """
    text = TEXTS.get(f"{of}.{key}") or TEXTS.get(key)
    return None if text is None else with_unit(text[0].upper() + text[1:], key)


def with_unit(text: str, key: str) -> str:
    """A text with the unit that the key's name ends in, unless it says it.

    >>> with_unit("When it came", "time_s"), with_unit("Mean [V]", "mean_v"), with_unit("How long", "hours")
    ('When it came [s]', 'Mean [V]', 'How long [h]')
    """
    last = key.rpartition("_")[2]
    unit = UNITS.get(last) if "_" in key or len(last) > 1 else None
    return text if unit is None or f"[{unit}]" in text else f"{text} [{unit}]"
