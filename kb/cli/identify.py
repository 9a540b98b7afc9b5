"""`kb identify`: what is this unit, which castings does it carry, what to look at next."""

import click

from kb.cli.options import database_option, evidence_options, json_option
from kb.words.evidence import Evidence


@click.command("identify")
@evidence_options
@database_option
@json_option
def command(evidence: Evidence, replaced_rate: float | None, db: str, as_json: bool) -> None:
    """What is this unit, and do its castings belong together?

    Name what you can read and see, as little or as much as there is:

    \b
      kb identify --serial "2?5[38]61" --mark crankcase=H41?0B
      kb identify --serial engine=E41? --saw crankcase.drain-lug=yes
    """
    from kb.api import KnowledgeBase
    from kb.cli.show import show
    from kb.cli.views.identification import identification

    with KnowledgeBase.open(db) as book:
        show(book.identify(evidence, replaced_rate=replaced_rate), as_json, identification)
