"""`kb casting`: what is this loose casting off."""

import click

from kb.cli.options import database_option, json_option, wear_option


@click.command("casting")
@click.argument("reading")
@wear_option
@click.option("--again", multiple=True, metavar="N=CHARACTER", help="What a second look at its Nth character showed, once cleaned: 3=8.")
@click.option("--maker", metavar="MAKER", help="Only castings of this maker (id or name).")
@click.option("--component", metavar="COMPONENT", help="Only castings of this component (id or name).")
@click.option("--model", metavar="MODEL", help="It came off a unit of this model (id or name): what such units carry comes first.")
@click.option("--serial-from", metavar="SERIAL", help="It came off a unit with this serial or a later one.")
@click.option("--serial-to", metavar="SERIAL", help="It came off a unit with this serial or an earlier one.")
@database_option
@json_option
def command(reading: str, wear: str | None, again: tuple[str, ...], db: str, as_json: bool, **told: str | None) -> None:
    """What is a loose casting off? READING is what you can read of its number.

    ? is one character that cannot be read, [38] is one of these, * is any number of missing ones:

    \b
      kb casting "V21?1"

    If you know where it came from, say so: other castings then drop out. If you can read the serial of the unit itself, or marks on its other
    castings, give all of them to kb identify.
    """
    from kb.api import KnowledgeBase
    from kb.cli.show import show
    from kb.cli.views.castings import casting
    from kb.probability.channel.reading import second_looks

    with KnowledgeBase.open(db) as book:
        show(book.casting(reading, wear=wear, again=second_looks(again), **told), as_json, casting, book.names)
