"""`kb casting`: what is this loose casting off."""

import click

from kb.cli.options import database_option, json_option, wear_option


@click.command("casting")
@click.argument("reading")
@wear_option
@click.option("--again", multiple=True, metavar="N=CHARACTER", help="What a second look at its Nth character showed, once cleaned: 3=8.")
@click.option("--maker", metavar="MAKER", help="Only castings of this maker (id or name).")
@database_option
@json_option
def command(reading: str, wear: str | None, again: tuple[str, ...], maker: str | None, db: str, as_json: bool) -> None:
    """What is a loose casting off, by the READING of its number?

    ? is one character that cannot be read, [38] one of these, * any number of missing ones: kb casting "H41?0B".
    """
    from kb.api import KnowledgeBase
    from kb.channel.reading import second_looks
    from kb.cli.show import show
    from kb.cli.views.castings import casting

    with KnowledgeBase.open(db) as book:
        show(book.casting(reading, wear=wear, maker=maker, again=second_looks(again)), as_json, casting)
