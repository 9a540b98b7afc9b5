"""`kb find`: which part has this number, these measures, or this place in a parts list."""

from datetime import date

import click

from kb.cli.options import database_option, json_option


@click.command("find")
@click.argument("words", nargs=-1)
@click.option("--tolerance", metavar="MEASURE", help="How much each measure may differ: 0.5, 1/64in. The default is 0.2 mm.")
@click.option("--figure", default="", metavar="FIGURE", help="Figure in a parts list.")
@click.option("--item", default="", metavar="ITEM", help="Item number in the figure.")
@database_option
@json_option
def command(words: tuple[str, ...], tolerance: str | None, figure: str, item: str, db: str, as_json: bool) -> None:
    """Find a part by WORDS (its number as somebody wrote it, its measures, its name) or by its place in a parts list.

    A number that nobody recorded is never taken for another one; those that may have been meant are listed. Measures are in mm
    unless they carry a unit: seal 35 x 52 x 7, or 1 3/8 x 2 in.
    """
    from kb.api import KnowledgeBase
    from kb.cli.show import show
    from kb.cli.views.found import found
    from kb.probability.catalogue.dimensions import tolerance as parse_tolerance

    with KnowledgeBase.open(db) as book:
        within = parse_tolerance(tolerance) if tolerance else None
        show(book.find(" ".join(words), tolerance=within, figure=figure, item=item, today=date.today()), as_json, found, book.names)
