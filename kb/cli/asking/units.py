"""`kb units`: which units does this part fit."""

import click

from kb.cli.options import database_option, json_option


@click.command("units")
@click.argument("part_number")
@database_option
@json_option
def command(part_number: str, db: str, as_json: bool) -> None:
    """Which units does PART_NUMBER fit? The answer starts with a sentence for a listing, which promises only what is sure."""
    from kb.api import KnowledgeBase
    from kb.cli.show import show
    from kb.cli.views.units import units

    with KnowledgeBase.open(db) as book:
        show(book.units(part_number), as_json, units, book.names)
