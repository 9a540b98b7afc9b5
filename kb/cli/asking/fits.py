"""`kb fits`: does this part fit this unit."""

from typing import Literal

import click

from kb.cli.options import cost_options, database_option, evidence_options, for_option, json_option
from kb.probability.inference.costs import Costs
from kb.words.evidence import Evidence


@click.command("fits")
@click.argument("part_number")
@evidence_options
@cost_options
@for_option
@database_option
@json_option
def command(
    part_number: str,
    evidence: Evidence,
    replaced_rate: float | None,
    costs: Costs | None,
    for_: Literal["fitted", "as-built"],
    db: str,
    as_json: bool,
) -> None:
    """Does PART_NUMBER fit the unit, and what can be bought today?

    One verdict for each place: fits, does not fit, check first (with what to look at), or not recorded.
    """
    from kb.api import KnowledgeBase
    from kb.cli.show import show
    from kb.cli.views.fits import fits

    with KnowledgeBase.open(db) as book:
        show(book.fits(part_number, evidence, for_=for_, replaced_rate=replaced_rate, costs=costs), as_json, fits, book.names)
