"""Giving back: what somebody found on a unit, as rows that the archivist can take over. The site itself writes nothing."""

from collections.abc import Sequence
from urllib.parse import quote

from kb.desk.workshop.sighting import as_csv, columns
from kb.web.form import Form
from kb.web.pages.page import Page, Request, Shown, evidence_of
from kb.web.pages.unit import form_sheet, require
from kb.web.pool import Opened
from kb.words.addresses import address
from kb.words.answers.workshop import NewSighting
from kb.words.errors import KbError


def answer(opened: Opened, asked: Request) -> list[NewSighting]:
    """What `kb sighting` answers."""
    return opened.kb.sightings(require(evidence_of(opened, asked)))


def rows_as_csv(opened: Opened, asked: Request) -> str:
    """The rows as a file for the dataset folder."""
    return as_csv(columns(answer(opened, asked)))


def letter(found: Sequence[NewSighting], unit: str, own: str) -> str:
    """What to write to the archivist."""
    seen = [f"- {row.name}: {f'mark {row.mark_read}' if row.mark_read else row.variant_id}" for row in found]
    head = f"A sighting of {unit}, no. {found[0].serial} ({found[0].series_id}):"
    questions = ["Seen on: ", "By: ", "Are these castings original, as far as you know? "]
    return "\n".join([head, "", *seen, "", *questions, "", f"All that was found: {own}", "", as_csv(columns(found))])


def sheet(opened: Opened, asked: Request) -> Shown:
    """The rows to be looked over, downloaded or mailed."""
    try:
        evidence = require(evidence_of(opened, asked))
        found = opened.kb.sightings(evidence)
    except KbError as error:
        return form_sheet(opened, Form(), error=error)
    unit = opened.kb.identify(evidence).units[0].name
    text = letter(found, unit, asked.home + address("/identify", evidence.fields))
    link = f"mailto:?subject={quote('A sighting: ' + found[0].serial)}&body={quote(text)}"
    return Shown("sighting.html", {"rows": found, "letter": text, "mail_link": link, "pairs": evidence.fields})


SIGHTING = Page("/sighting", sheet, answer)
