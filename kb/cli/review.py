"""`kb review`: what the evidence makes of the change-overs, and what does not agree."""

import click

from kb.cli.options import database_option, json_option


@click.command("review")
@click.option("--series", metavar="SERIES", help="Only change-overs of this series.")
@click.option("--component", metavar="COMPONENT", help="Only change-overs of this component.")
@database_option
@json_option
def command(series: str | None, component: str | None, db: str, as_json: bool) -> None:
    """When did the castings change, by all sources and sightings together, and where do they disagree?"""
    from kb.api import KnowledgeBase
    from kb.cli.show import show
    from kb.cli.views.reviews import review

    with KnowledgeBase.open(db) as book:
        show(book.review(series=series, component=component), as_json, review)
