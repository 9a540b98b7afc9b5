"""`kb sell`: a part for a unit, in words for the counter."""

from datetime import date
from typing import Literal

import click

from kb.cli.options import cost_options, database_option, evidence_options, for_option, json_option
from kb.probability.inference.costs import Costs
from kb.words.evidence import Evidence


@click.command("sell")
@click.argument("part_number")
@evidence_options
@cost_options
@for_option
@click.option("--alone", is_flag=True, help="Leave out what goes with it.")
@database_option
@json_option
def command(
    part_number: str,
    evidence: Evidence,
    replaced_rate: float | None,
    costs: Costs | None,
    for_: Literal["fitted", "as-built"],
    alone: bool,
    db: str,
    as_json: bool,
) -> None:
    """What to say to a customer who wants PART_NUMBER: the verdict, the one question to ask, what to order and what goes with it.

    The reasons are those of kb fits.
    """
    from kb.api import KnowledgeBase
    from kb.cli.show import show
    from kb.cli.views.sales import sale

    with KnowledgeBase.open(db) as book:
        answer = book.sell(
            part_number, evidence, for_=for_, replaced_rate=replaced_rate, costs=costs, companions=not alone, today=date.today()
        )
        show(answer, as_json, sale)
