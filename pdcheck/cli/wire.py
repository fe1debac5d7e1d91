"""``pdcheck wire``: what a wire costs at a current, or the thinnest one for a drop."""

from __future__ import annotations

import click

from pdcheck.cli.option_types import quantity_option


@click.command("wire", short_help="What a wire costs, or the thinnest one that does.")
@quantity_option("--length", "m", required=True, help="One way, as in 2m; the way back is added.")
@quantity_option("--current", "A", required=True, help="Current, as in 3A.")
@quantity_option("--drop", "V", help="The most that it may drop, as in 0.3V.")
@click.option("--awg", metavar="N", help="This gauge: what it costs.")
@click.option("--mm2", metavar="N", help="This cross-section: what it costs.")
@quantity_option("--contacts", "ohm", zero=True, default="0ohm", help="Contacts of the pair, in all.")
@quantity_option("--temperature", "C", default="20C", help="Of the copper; 20C without it.")
@click.option("--stranded", is_flag=True, help="A gauge is of stranded wire; metric sizes always are.")
@click.option("--json", "as_json", is_flag=True, help="Print the JSON document pdcheck/wire/1.")
def command(
    length: float,
    current: float,
    drop: float | None,
    awg: str | None,
    mm2: str | None,
    contacts: float,
    temperature: float,
    stranded: bool,
    as_json: bool,
) -> int:
    """Without --awg or --mm2: the thinnest gauge and cross-section that keep within --drop and stay cool. With one of
    them: what that wire drops, burns and stands.

    Exit code 1 where the wire drops more than --drop or gets too warm, or none will do.

    \b
    pdcheck wire --length 2m --current 3A --drop 0.3V
    pdcheck wire --awg 20 --length 2m --current 3A
    """
    from pdcheck.circuit.wire import least_area_mm2, least_cross_section, least_gauge, wire_cost
    from pdcheck.parts.wire import Wire
    from pdcheck.quantities import format_quantity
    from pdcheck.show import sums
    from pdcheck.show.emit import emit_json
    from pdcheck.verdict.finding import over

    document = {"schema": sums.WIRE_SCHEMA, "length_m": length, "current_a": current, "limit_v": drop}
    if awg is not None or mm2 is not None:
        size = {key: value for key, value in (("awg", awg), ("mm2", mm2)) if value is not None}
        figures = {"length_m": length, "contacts_ohm": contacts, "stranded": stranded and awg is not None}
        wire = Wire(size | figures)
        cost = wire_cost(wire, current, temperature)
        if as_json:
            emit_json(document | {"wire": sums.cost_json(cost)})
        else:
            click.echo(sums.cost_line(cost, current, drop))
        return int(over(current, cost.ampacity_a) or (drop is not None and over(cost.drop_v, drop)))
    if drop is None:
        raise click.UsageError("--drop is needed to find a wire, or --awg or --mm2 to look at one")
    gauge = least_gauge(length, current, drop, contacts_ohm=contacts, stranded=stranded, temperature_c=temperature)
    metric = least_cross_section(length, current, drop, contacts_ohm=contacts, temperature_c=temperature)
    area = least_area_mm2(length, current, drop, contacts_ohm=contacts, stranded=stranded, temperature_c=temperature)
    if as_json:
        found = {"least_awg": sums.least_json(gauge), "least_mm2": sums.least_json(metric), "least_copper_mm2": area}
        emit_json(document | found)
    else:
        click.echo(sums.least_line(gauge, "gauge", current, drop))
        click.echo(sums.least_line(metric, "cross-section", current, drop))
        if area is None:
            click.echo(f"the contacts alone drop {format_quantity(contacts * current, 'V', 3)}")
    return int(gauge is None and metric is None)
