"""`kb identify`: what is this unit, which castings does it carry, what to look at next."""

import click

from kb.cli.options import database_option, evidence_options, force_option, json_option, save_unit
from kb.words.evidence import Evidence


@click.command("identify")
@evidence_options
@click.option("--save", metavar="FILE", help="Also keep the unit in a file, to take up again with --unit FILE and more evidence.")
@force_option
@database_option
@json_option
def command(evidence: Evidence, replaced_rate: float | None, save: str | None, force: bool, db: str, as_json: bool) -> None:
    """What is this unit, and do its castings belong together?

    Give what you can read and see, however little or much there is:

    \b
      kb identify --serial "1042?1" --mark mill-frame=V12?7
      kb identify --serial "pw-engine-no=P041??" --mark pump-cover@left=80-C36
    """
    from kb.api import KnowledgeBase
    from kb.cli.show import show
    from kb.cli.views.identification import identification

    with KnowledgeBase.open(db) as book:
        found = book.identify(evidence, replaced_rate=replaced_rate)
        if save:
            save_unit(save, found, force)
        show(found, as_json, identification, book.names)
