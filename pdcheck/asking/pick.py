"""Pick: the offers of a source ranked for a wanted output."""

from __future__ import annotations

from pdcheck.asking.given import AnyCable, AnyKit, AnySource, source_and_cable
from pdcheck.errors import InputError
from pdcheck.parts.converter import Converter
from pdcheck.parts.rig_answers import read_output
from pdcheck.quantities import quoted
from pdcheck.verdict.pick import Picked, Wanted
from pdcheck.verdict.pick import pick as ranked


def pick(
    source: AnySource,
    output: str | tuple[float, float],
    converter: Converter | str | None = None,
    cable: AnyCable | None = None,
    kit: AnyKit | None = None,
) -> Picked:
    """Rank what a source offers for an output: which offer to set the trigger to, and why each other one loses.

    Args:
        source: a Source, an id of the kit, a label, hex, or a path.
        output: volts and amperes or watts, as in ``12V@2A``, ``12V 24W`` or ``(12.0, 2.0)``.
        converter: a Converter, or in one word: ``buck-boost:6-36V:5A:92%``.
        cable: a Cable, an id of the kit, a description, or the words of an e-marker.
        kit: a Kit, or the path of its file, that ids are looked up in.

    Raises:
        InputError: what cannot be read, an output that is none.

    >>> pick("5V 3A, 9V 3A, 15V 3A", "12V@2A", "buck-boost:6-36V:5A:92%")
    <Picked: 15 V, fixed>
    """
    try:
        voltage_v, current_a = read_output(output) if isinstance(output, str) else output
        if not (voltage_v > 0 and current_a > 0):
            raise InputError(f"{quoted(output)} is no output", expected="volts and amperes above zero, as in 12V@2A")
    except InputError as error:
        raise error.of("output") from None
    try:
        through = Converter(converter, output=voltage_v) if isinstance(converter, str) else converter
    except InputError as error:
        raise error.of("converter") from None
    return ranked(*source_and_cable(source, cable, kit), Wanted(voltage_v, current_a, through))
