"""`kb review`: what the evidence says about the change-overs, what does not agree, and what was learned from confirmed readings."""

import click

from kb.cli.options import database_option, json_option


@click.command("review")
@click.option("--series", metavar="SERIES", help="Only change-overs of this series.")
@click.option("--component", metavar="COMPONENT", help="Only change-overs of this component.")
@click.option("--readings", is_flag=True, help="Show instead what was learned from confirmed readings, and how far to rely on it.")
@database_option
@json_option
def command(series: str | None, component: str | None, readings: bool, db: str, as_json: bool) -> None:
    """When did the castings change, according to all sources and sightings together, and where do those disagree?

    With --readings: how readings whose truth is known (readings.csv) changed the way worn numbers are weighed.
    """
    if readings and (series or component):
        raise click.UsageError("--readings is about all of them: leave out --series and --component.")
    from kb.api import KnowledgeBase
    from kb.cli.show import show

    with KnowledgeBase.open(db) as book:
        if readings:
            from kb.cli.views import readings as of_readings

            show(book.review_readings(), as_json, of_readings.readings)
        else:
            from kb.cli.views.reviews import review

            show(book.review(series=series, component=component), as_json, review, book.names)
