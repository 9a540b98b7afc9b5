"""`kb parts`: which parts fit this unit."""

from typing import Literal

import click

from kb.cli.options import cost_options, database_option, evidence_options, for_option, json_option
from kb.probability.inference.costs import Costs
from kb.words.evidence import Evidence


@click.command("parts")
@click.option("--assembly", metavar="ASSEMBLY", help="Only parts of this assembly.")
@click.option("--all", "everything", is_flag=True, help="Include parts that do not fit, and those about which nothing is recorded.")
@evidence_options
@cost_options
@for_option
@database_option
@json_option
def command(
    assembly: str | None,
    everything: bool,
    evidence: Evidence,
    replaced_rate: float | None,
    costs: Costs | None,
    for_: Literal["fitted", "as-built"],
    db: str,
    as_json: bool,
) -> None:
    """Which parts fit the unit, and what should be ordered for it today?"""
    from kb.api import KnowledgeBase
    from kb.cli.show import show
    from kb.cli.views.fits import parts

    with KnowledgeBase.open(db) as book:
        found = book.parts(evidence, assembly=assembly, for_=for_, everything=everything, replaced_rate=replaced_rate, costs=costs)
        show(found, as_json, parts)
