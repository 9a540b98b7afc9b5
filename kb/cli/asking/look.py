"""`kb look`: what may this number or word mean."""

import click

from kb.cli.options import database_option, json_option


@click.command("look")
@click.argument("words", nargs=-1, required=True)
@database_option
@json_option
def command(words: tuple[str, ...], db: str, as_json: bool) -> None:
    """Say what WORDS may mean: a part, the serial of a unit, a casting number, a model, a component, or words of a description.

    For whoever has a number and does not know what kind of number it is. Each meaning comes with the command that says more:

    \b
      kb look 6104
      kb look "V21?1"
      kb look arbor housing
    """
    from kb.api import KnowledgeBase
    from kb.cli.show import show
    from kb.cli.views.catalogue import look

    with KnowledgeBase.open(db) as book:
        show(book.look(" ".join(words)), as_json, look)
