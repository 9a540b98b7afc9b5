"""`kb compare`: the variants of a component side by side."""

import click

from kb.cli.options import database_option, json_option


@click.command("compare")
@click.argument("component")
@click.argument("variant", nargs=-1)
@database_option
@json_option
def command(component: str, variant: tuple[str, ...], db: str, as_json: bool) -> None:
    """Set the variants of COMPONENT side by side: marks, what tells them apart, between which serials each was fitted.

    COMPONENT and VARIANT are ids or names; without a VARIANT all are shown:

    \b
      kb compare arbor-housing
      kb compare saw-flange flange-4pin flange-6pin
    """
    from kb.api import KnowledgeBase
    from kb.cli.show import show
    from kb.cli.views.catalogue import comparison

    with KnowledgeBase.open(db) as book:
        show(book.compare(component, variant), as_json, comparison)
