"""The work sheet for an assembly of a unit, the same sheet that `kb sheet` writes."""

from kb.desk.paper.sheet import html
from kb.web.address import address
from kb.web.desk import Opened
from kb.web.pages.page import Asked, Elsewhere, Page, Printed, Sheet, complete_form, evidence_of, rate_of
from kb.web.pages.unit import form_sheet
from kb.words import sheets
from kb.words.errors import DataError, KbError


def answer(opened: Opened, asked: Asked) -> sheets.Sheet:
    """What `kb sheet` answers."""
    assembly = asked.query.one("assembly")
    if not assembly:
        raise DataError("No assembly is named.", "Add it to the address: /sheet.json?assembly=pump&serial=C1542.")
    return opened.kb.sheet(evidence_of(opened, asked), assembly, replaced_rate=rate_of(asked))


def sheet(opened: Opened, asked: Asked) -> Sheet | Printed | Elsewhere:
    """The sheet, ready to print; without an assembly, the parts of the unit, where they can be chosen."""
    form, evidence = complete_form(opened, asked)
    if evidence is None:
        return form_sheet(opened, form, "/parts")
    if not asked.query.one("assembly"):
        return Elsewhere(address("/parts", evidence.fields))
    try:
        return Printed(html(answer(opened, asked), asked.home))
    except KbError as error:
        return form_sheet(opened, form, "/parts", error=error)


SHEET = Page("/sheet", sheet, answer)
