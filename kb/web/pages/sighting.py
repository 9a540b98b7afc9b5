"""Giving back: what somebody found on a unit, as rows that the archivist can take over. The site itself writes nothing."""

import csv
import hashlib
import io
from urllib.parse import quote

from kb.desk.question import locate, understand
from kb.web.address import address, evidence_pairs
from kb.web.desk import Opened
from kb.web.form import Form
from kb.web.pages.page import Asked, Page, Sheet, evidence_of
from kb.web.pages.unit import form_sheet, require
from kb.words.answers import Identification
from kb.words.errors import KbError, QuestionError
from kb.words.evidence import Evidence
from kb.words.records.columns import columns

SURE = 0.95  # that a feature tells the variant; below it is no sighting


def rows(opened: Opened, evidence: Evidence) -> tuple[Identification, list[dict[str, str]]]:
    """The rows of sightings.csv that the evidence amounts to: one for every mark read, and for every variant that a feature settles.

    Raises:
        QuestionError: no serial is given, or none of its castings was looked at.
    """
    found = opened.kb.identify(evidence)
    question = understand(opened.book, evidence)
    if not question.serials or not found.units:
        raise QuestionError(
            "A sighting needs the serial of the unit.", "Add what can be read of the serial; ? stands for a character that cannot be read."
        )
    maker = found.units[0].maker
    series = question.serials[0].series_id or found.units[0].series
    serial = str(question.serials[0].reading)
    dates = {locate(opened.book, [maker], d.component, d.place, str(d))[maker]: d.code for d in evidence.cast_dates}
    pieces = [(piece.spots[maker], piece) for piece in question.spots if maker in piece.spots]
    made = {spot: {"mark_read": str(piece.reading)} for spot, piece in pieces if piece.reading is not None}
    fitted = {(entry.component, entry.place): entry for entry in found.fitted}
    for spot, piece in pieces:
        entry = fitted.get(spot)
        if spot not in made and piece.feature is not None and entry and entry.variant and entry.probability >= SURE:
            made[spot] = {"variant_id": entry.variant}
    if not made:
        raise QuestionError(
            "None of its castings was looked at closely enough for a sighting.", "Read a casting number, or look at what tells the castings apart."
        )
    empty = {column.name: "" for column in columns("sightings")}
    finished = []
    for (component, place), says in made.items():
        digest = hashlib.sha256(repr((series, serial, component, place, sorted(says.items()))).encode()).hexdigest()[:10]
        row = {**empty, "sighting_id": f"from-page-{digest}", "series_id": series, "serial": serial, "component_id": component, "place": place}
        finished.append({**row, **says, "original": "unknown", "casting_date": dates.get((component, place), "")})
    return found, finished


def as_csv(finished: list[dict[str, str]]) -> str:
    """As a file for the dataset folder (RFC 4180)."""
    text = io.StringIO()
    writer = csv.DictWriter(text, fieldnames=[column.name for column in columns("sightings")], lineterminator="\r\n")
    writer.writeheader()
    writer.writerows(finished)
    return text.getvalue()


def mail(found: Identification, finished: list[dict[str, str]], own: str) -> str:
    """The text of a letter to the archivist."""
    row = finished[0]
    lines = [f"A sighting of {found.units[0].name}, no. {row['serial']} ({row['series_id']}):", ""]
    for each in finished:
        where = f"{each['component_id']}{' ' + each['place'] if each['place'] else ''}"
        lines.append(f"- {where}: {'mark ' + each['mark_read'] if each['mark_read'] else each['variant_id']}")
    return "\n".join(
        [*lines, "", "Seen on: ", "By: ", "Are these castings original, as far as you know? ", "", f"All that was found: {own}", "", as_csv(finished)]
    )


def sheet(opened: Opened, asked: Asked) -> Sheet:
    """The rows to be looked over, downloaded or mailed."""
    try:
        evidence = require(evidence_of(opened, asked))
        found, finished = rows(opened, evidence)
    except KbError as error:
        return form_sheet(opened, Form(), error=error)
    pairs = evidence_pairs(evidence)
    letter = mail(found, finished, asked.home + address("/identify", pairs))
    link = f"mailto:?subject={quote('A sighting: ' + finished[0]['serial'])}&body={quote(letter)}"
    return Sheet(
        "sighting.html", {"rows": finished, "letter": letter, "mail_link": link, "pairs": pairs, "names_of": [c.name for c in columns("sightings")]}
    )


SIGHTING = Page("/sighting", sheet)
