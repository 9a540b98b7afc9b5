"""What is taken to the machine: the work sheet for an assembly of a unit and the field guide of a model, as `kb sheet` and `kb guide` write them."""

from kb.desk.workshop.print.guide import html as guide_html
from kb.desk.workshop.print.sheet import html
from kb.web.pages.page import Elsewhere, NotHere, Page, Printed, Request, Shown, complete_form, evidence_of, rate_of
from kb.web.pages.unit import form_sheet
from kb.web.pool import Opened
from kb.words.addresses import address
from kb.words.answers import workshop
from kb.words.errors import DataError, KbError


def answer(opened: Opened, asked: Request) -> workshop.Sheet:
    """What `kb sheet` answers."""
    assembly = asked.query.one("assembly")
    if not assembly:
        raise DataError("No assembly is named.", "Add it to the address: /sheet.json?assembly=pump&serial=C1542.")
    return opened.kb.sheet(evidence_of(opened, asked), assembly, replaced_rate=rate_of(asked))


def sheet(opened: Opened, asked: Request) -> Shown | Printed | Elsewhere:
    """The sheet, ready to print; without an assembly, the parts of the unit, where they can be chosen."""
    form, evidence = complete_form(opened, asked)
    if evidence is None:
        return form_sheet(opened, form, "/parts")
    if not asked.query.one("assembly"):
        return Elsewhere(address("/parts", evidence.fields))
    try:
        return Printed(html(answer(opened, asked), opened.kb.names, asked.home))
    except KbError as error:
        return form_sheet(opened, form, "/parts", error=error)


def guide_answer(opened: Opened, asked: Request) -> workshop.Guide:
    """What `kb guide` answers."""
    model = asked.steps["model"]
    if model not in opened.book.models:
        raise NotHere(f'There is no model "{model[:60]}" in this knowledge base.', "Look it up among the models.")
    return opened.kb.guide(model)


def guide_sheet(opened: Opened, asked: Request) -> Printed:
    """The field guide: one file to be kept on a telephone, which needs no network afterwards."""
    return Printed(guide_html(guide_answer(opened, asked), asked.home))


SHEET = Page("/sheet", sheet, answer)
GUIDE = Page("/guides/(?P<model>[^/]+?)", guide_sheet, guide_answer)
