"""A work sheet as one HTML file: to read on a phone, to print on A4 or Letter, with blanks to fill in."""

from kb.assumptions import Assumptions
from kb.desk.sentences import screens
from kb.desk.sentences.dating import likely_built
from kb.desk.sentences.names import Names
from kb.desk.sentences.numbers import likely
from kb.desk.workshop.print.page import address_of, code, judge_of, templates
from kb.desk.workshop.print.timeline import timeline
from kb.words.answers.workshop import HazardNote, Sheet
from kb.words.evidence import WRITTEN

CASTINGS_SHOWN = 0.005  # display


def html(sheet: Sheet, names: Names, site: str = "") -> str:
    """The page.

    names: of the knowledge base that the sheet is from.
    site: where the knowledge base is served; with it the sheet carries the address of the unit as a code.
    """
    address = address_of(site, sheet.unit.evidence) if site else ""
    assumed = Assumptions().override(**sheet.unit.assumptions)
    return (
        templates()
        .get_template("sheet.html")
        .render(
            sheet=sheet,
            unit=sheet.unit,
            best=sheet.unit.units[0] if sheet.unit.units else None,
            sure=not sheet.unit.unknown and bool(sheet.unit.units) and sheet.unit.units[0].probability >= assumed.sheet_sure_at,
            pieces=[str(p) for kind in WRITTEN for p in sheet.unit.evidence.pieces(kind)],
            picture=timeline(sheet.unit),
            hazards=_hazards(sheet),
            site=site,
            judge=lambda step: judge_of(site, step, sheet.unit.evidence),
            address=address,
            code=code(address) if address else "",
            likely=likely,
            say=screens,
            names=names,
            likely_built=likely_built,
        )
    )


def _hazards(sheet: Sheet) -> list[HazardNote]:
    """Every kind of danger of the sheet once, in the order in which it comes up."""
    found: dict[str, HazardNote] = {}
    for procedure in sheet.procedures:
        for note in [*procedure.hazards, *(note for step in procedure.steps for note in step.hazards)]:
            found.setdefault(note.hazard, note)
    return list(found.values())
