"""Does a part fit the unit, and which parts fit it."""

from typing import Literal, cast

from kb.web.address import address
from kb.web.desk import Opened
from kb.web.pages.page import Asked, Elsewhere, Page, Sheet, choice_of, complete_form, evidence_of, rate_of
from kb.web.pages.unit import by_assembly, form_sheet, with_procedure
from kb.words.answers import Fit
from kb.words.errors import DataError, KbError

FOR = ("fitted", "as-built")
For = Literal["fitted", "as-built"]


def _for(asked: Asked) -> For:
    return cast(For, choice_of(asked, "for", FOR))


def _further(asked: Asked) -> list[tuple[str, str]]:
    return [(name, asked.query.one(name)) for name in ("for", "replaced_rate") if asked.query.one(name)]


def fits_answer(opened: Opened, asked: Asked) -> list[Fit]:
    """What `kb fits` answers."""
    part = asked.query.one("part")
    if not part:
        raise DataError("No part number is given.", "Add it to the address: /fits.json?part=6104&serial=105112.")
    return opened.kb.fits(part, evidence_of(opened, asked), for_=_for(asked), replaced_rate=rate_of(asked))


def fits_sheet(opened: Opened, asked: Asked) -> Sheet | Elsewhere:
    """The form with a part number, or the verdicts."""
    part = asked.query.one("part")
    form, evidence = complete_form(opened, asked)
    if evidence is None or evidence.empty or not part:
        if not part and evidence is not None and not evidence.empty and not form.more:
            form.errors["part"] = DataError("No part number is given.", "Write the number of the part that you want to know about.")
        return form_sheet(opened, form, "/fits", part=part)
    pairs = [("part", part), *evidence.fields, *_further(asked)]
    if form.typed:
        return Elsewhere(address("/fits", pairs))
    try:
        verdicts = opened.kb.fits(part, evidence, for_=_for(asked), replaced_rate=rate_of(asked))
        found = opened.kb.identify(evidence, replaced_rate=rate_of(asked))
    except KbError as error:
        return form_sheet(opened, form, "/fits", error=error, part=part)
    values = {"verdicts": verdicts, "found": found, "part": part, "pairs": pairs, "unit_pairs": evidence.fields, "further": _further(asked)}
    return Sheet("fits.html", {**values, "for_": _for(asked)})


def parts_answer(opened: Opened, asked: Asked) -> list[Fit]:
    """What `kb parts` answers."""
    return opened.kb.parts(
        evidence_of(opened, asked),
        assembly=asked.query.one("assembly") or None,
        for_=_for(asked),
        everything=choice_of(asked, "everything", ("no", "yes")) == "yes",
        replaced_rate=rate_of(asked),
    )


def parts_sheet(opened: Opened, asked: Asked) -> Sheet | Elsewhere:
    """The form, or the parts of the unit by assembly."""
    form, evidence = complete_form(opened, asked)
    if evidence is None or evidence.empty:
        return form_sheet(opened, form, "/parts")
    pairs = evidence.fields
    if form.typed:
        return Elsewhere(address("/parts", pairs))
    try:
        found = opened.kb.identify(evidence, replaced_rate=rate_of(asked))
        fits = parts_answer(opened, asked)
    except KbError as error:
        return form_sheet(opened, form, "/parts", error=error)
    every = {component.assembly: None for component in opened.book.components.values() if found.units and component.maker_id == found.units[0].maker}
    values = {
        "assemblies": by_assembly(opened.book, fits),
        "found": found,
        "pairs": pairs,
        "every": list(every),
        "sheets": with_procedure(opened.book, found),
    }
    chosen = {name: asked.query.one(name) for name in ("assembly", "everything", "for", "replaced_rate")}
    cautions = list(dict.fromkeys(caution for fit in fits for caution in fit.cautions))
    return Sheet("parts.html", {**values, "chosen": chosen, "cautions": cautions})


FITS = Page("/fits", fits_sheet, fits_answer)
PARTS = Page("/parts", parts_sheet, parts_answer)
