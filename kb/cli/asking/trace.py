"""`kb trace`: what this part number has become."""

import click

from kb.cli.options import database_option, json_option


@click.command("trace")
@click.argument("part_number")
@database_option
@json_option
def command(part_number: str, db: str, as_json: bool) -> None:
    """Follow PART_NUMBER through its supersessions to what can be bought today."""
    from kb.api import KnowledgeBase
    from kb.cli.show import show
    from kb.cli.views.traces import trace

    with KnowledgeBase.open(db) as book:
        show(book.current(part_number), as_json, trace, book.names)
