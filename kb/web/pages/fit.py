"""Does a part fit the unit, what is said to the customer who wants it, and which parts fit."""

from typing import Literal, cast

from kb.web.address import Asked, Pairs
from kb.web.pages.page import Elsewhere, Page, Request, Shown, choice_of, complete_form, costs_of, evidence_of, rate_of
from kb.web.pages.partlist import assemblies_of, by_assembly, few_parts, with_procedure
from kb.web.pages.unit import form_sheet
from kb.web.pool import Opened
from kb.words.addresses import address
from kb.words.answers.fitment import Fit
from kb.words.answers.trade import Sale
from kb.words.errors import DataError, KbError
from kb.words.evidence import Evidence

FOR = ("fitted", "as-built")
FURTHER = ("for", "replaced_rate", "return_cost", "sale_value", "alone")
For = Literal["fitted", "as-built"]


def _for(asked: Request) -> For:
    return cast(For, choice_of(asked, "for", FOR))


def _further(asked: Request) -> Pairs:
    return [(name, asked.query.one(name)) for name in FURTHER if asked.query.one(name)]


def _part(asked: Request) -> str:
    part = asked.query.one("part")
    if not part:
        raise DataError("No part number is given.", f"Add it to the address: {asked.path}.json?part=6104&serial=105112.")
    return part


def fits_answer(opened: Opened, asked: Request) -> list[Fit]:
    """What `kb fits` answers."""
    return opened.kb.fits(_part(asked), evidence_of(opened, asked), for_=_for(asked), replaced_rate=rate_of(asked), costs=costs_of(asked))


def sell_answer(opened: Opened, asked: Request) -> Sale:
    """What `kb sell` answers, but for the age of offers: an answer of the site depends on nothing but the file, and `as_of` is in it."""
    return opened.kb.sell(
        _part(asked),
        evidence_of(opened, asked),
        for_=_for(asked),
        replaced_rate=rate_of(asked),
        costs=costs_of(asked),
        companions=choice_of(asked, "alone", ("no", "yes")) == "no",
    )


def _part_and_unit(opened: Opened, asked: Request, action: str) -> Shown | Elsewhere | Evidence:
    """The form until part and unit are named, then the address that carries both, then the unit."""
    part = asked.query.one("part")
    form, evidence = complete_form(opened, asked)
    if evidence is None or evidence.empty or not part:
        if not part and evidence is not None and not evidence.empty and not form.more:
            form.errors["part"] = DataError("No part number is given.", "Write the number of the part that you want to know about.")
        return form_sheet(opened, form, action, part=part)
    if form.typed:
        return Elsewhere(address(action, [("part", part), *evidence.fields, *_further(asked)]))
    return evidence


def fits_sheet(opened: Opened, asked: Request) -> Shown | Elsewhere:
    """The form with a part number, or the verdicts."""
    evidence = _part_and_unit(opened, asked, "/fits")
    if not isinstance(evidence, Evidence):
        return evidence
    part, further = asked.query.one("part"), _further(asked)
    try:
        verdicts = fits_answer(opened, asked)
        found = opened.kb.identify(evidence, replaced_rate=rate_of(asked))
    except KbError as error:
        return form_sheet(opened, complete_form(opened, asked)[0], "/fits", error=error, part=part)
    values = {"verdicts": verdicts, "found": found, "part": part, "unit_pairs": evidence.fields, "known": Asked(evidence.fields), "further": further}
    return Shown("fits.html", {**values, "for_": _for(asked)})


def sell_sheet(opened: Opened, asked: Request) -> Shown | Elsewhere:
    """The form with a part number, or what to say to the customer."""
    evidence = _part_and_unit(opened, asked, "/sell")
    if not isinstance(evidence, Evidence):
        return evidence
    part = asked.query.one("part")
    try:
        sale = sell_answer(opened, asked)
        found = opened.kb.identify(evidence, replaced_rate=rate_of(asked))
    except KbError as error:
        return form_sheet(opened, complete_form(opened, asked)[0], "/sell", error=error, part=part)
    return Shown("sell.html", {"sale": sale, "found": found, "unit_pairs": evidence.fields, "further": _further(asked)})


def parts_answer(opened: Opened, asked: Request) -> list[Fit]:
    """What `kb parts` answers."""
    return opened.kb.parts(
        evidence_of(opened, asked),
        assembly=asked.query.one("assembly") or None,
        for_=_for(asked),
        everything=choice_of(asked, "everything", ("no", "yes")) == "yes",
        replaced_rate=rate_of(asked),
        costs=costs_of(asked),
    )


def parts_sheet(opened: Opened, asked: Request) -> Shown | Elsewhere:
    """The form, or the parts of the unit by assembly."""
    form, evidence = complete_form(opened, asked)
    if evidence is None or evidence.empty:
        return form_sheet(opened, form, "/parts")
    pairs = evidence.fields
    if form.typed:
        return Elsewhere(address("/parts", pairs))
    try:
        found = opened.kb.identify(evidence, replaced_rate=rate_of(asked))
        to_choose = not asked.query.one("assembly") and not few_parts(opened, found)
        fits = [] if to_choose else parts_answer(opened, asked)
    except KbError as error:
        return form_sheet(opened, form, "/parts", error=error)
    assemblies, left_out = by_assembly(opened.book, fits)
    values = {
        "assemblies": assemblies,
        "left_out": left_out,
        "to_choose": to_choose,
        "found": found,
        "pairs": pairs,
        "known": Asked(pairs),
        "every": assemblies_of(opened.book, found),
        "sheets": with_procedure(opened.book, found),
    }
    chosen = {name: asked.query.one(name) for name in ("assembly", "everything", *FURTHER)}
    cautions = list(dict.fromkeys(caution for fit in fits for caution in fit.cautions))
    assumed = next((fit.assumed for fit in fits if fit.assumed), "")
    return Shown("parts.html", {**values, "chosen": chosen, "cautions": cautions, "assumed": assumed})


FITS = Page("/fits", fits_sheet, fits_answer)
SELL = Page("/sell", sell_sheet, sell_answer)
PARTS = Page("/parts", parts_sheet, parts_answer)
