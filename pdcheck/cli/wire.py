"""``pdcheck wire``: what a wire costs at a current, or the thinnest one for a drop."""

from __future__ import annotations

import click


@click.command("wire", short_help="What a wire costs, or the thinnest one that does.")
@click.option("--length", required=True, metavar="M", help="One way, as in 2m; the way back is added.")
@click.option("--current", required=True, metavar="A", help="Current, as in 3A.")
@click.option("--drop", "drop_text", metavar="V", help="The most that it may drop, as in 0.3V.")
@click.option("--awg", metavar="N", help="This gauge: what it costs.")
@click.option("--mm2", metavar="N", help="This cross-section: what it costs.")
@click.option("--contacts", default="0ohm", metavar="OHM", help="Contacts of the pair, in all.")
@click.option("--temperature", default="20C", metavar="C", help="Of the copper; 20C without it.")
@click.option("--stranded", is_flag=True, help="A gauge is of stranded wire; metric sizes always are.")
@click.option("--json", "as_json", is_flag=True, help="Print the JSON document pdcheck/wire/1.")
def command(
    length: str,
    current: str,
    drop_text: str | None,
    awg: str | None,
    mm2: str | None,
    contacts: str,
    temperature: str,
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
    from pdcheck.cli.option_values import quantity
    from pdcheck.parts.wire import Wire
    from pdcheck.quantities import format_quantity, over
    from pdcheck.show import sums
    from pdcheck.show.emit import emit_json

    length_m, current_a = quantity(length, "m", "--length"), quantity(current, "A", "--current")
    limit_v = None if drop_text is None else quantity(drop_text, "V", "--drop")
    contacts_ohm = quantity(contacts, "ohm", "--contacts", zero=True)
    celsius = quantity(temperature, "C", "--temperature")
    document = {"schema": sums.WIRE_SCHEMA, "length_m": length_m, "current_a": current_a, "limit_v": limit_v}
    if awg is not None or mm2 is not None:
        size = {key: value for key, value in (("awg", awg), ("mm2", mm2)) if value is not None}
        figures = {"length_m": length_m, "contacts_ohm": contacts_ohm, "stranded": stranded and awg is not None}
        wire = Wire(size | figures)
        cost = wire_cost(wire, current_a, celsius)
        if as_json:
            emit_json(document | {"wire": sums.cost_json(cost)})
        else:
            click.echo(sums.cost_line(cost, current_a, limit_v))
        return int(over(current_a, cost.ampacity_a) or (limit_v is not None and over(cost.drop_v, limit_v)))
    if limit_v is None:
        raise click.UsageError("--drop is needed to find a wire, or --awg or --mm2 to look at one")
    gauge = least_gauge(
        length_m, current_a, limit_v, contacts_ohm=contacts_ohm, stranded=stranded, temperature_c=celsius
    )
    metric = least_cross_section(length_m, current_a, limit_v, contacts_ohm=contacts_ohm, temperature_c=celsius)
    area = least_area_mm2(
        length_m, current_a, limit_v, contacts_ohm=contacts_ohm, stranded=stranded, temperature_c=celsius
    )
    if as_json:
        found = {"least_awg": sums.least_json(gauge), "least_mm2": sums.least_json(metric), "least_copper_mm2": area}
        emit_json(document | found)
    else:
        click.echo(sums.least_line(gauge, "gauge", current_a, limit_v))
        click.echo(sums.least_line(metric, "cross-section", current_a, limit_v))
        if area is None:
            click.echo(f"the contacts alone drop {format_quantity(contacts_ohm * current_a, 'V', 3)}")
    return int(gauge is None and metric is None)
