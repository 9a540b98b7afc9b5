"""A finished examination as rows of sightings.csv: what the archivist can use of it."""

import csv
import hashlib
import io
from collections.abc import Iterable, Mapping, Sequence

from kb.desk.evidence.cast_date import ResolvedDate
from kb.desk.evidence.mark import PlacedMark
from kb.desk.evidence.saw import ResolvedFeature
from kb.desk.evidence.serial import ResolvedSerial
from kb.desk.identify.identification import fitted_entries
from kb.desk.posterior.examination import Examination
from kb.desk.sentences.names import spot_name
from kb.words.answers.workshop import NewSighting
from kb.words.errors import QuestionError

COLUMNS = ("sighting_id", "series_id", "serial", "component_id", "place", "variant_id", "mark_read", "original", "casting_date", "seen_on")


def sightings(found: Examination) -> list[NewSighting]:
    """A row for every mark that was read, and for every variant that a feature or measure settles, at the maker of the most probable unit.

    Whether a casting is original nobody has said yet: "unknown". What was inferred only, from the serial or from other castings, is no sighting.

    Raises:
        QuestionError: no serial was read, the unit is probably not in this knowledge base, or no casting was looked at closely enough.
    """
    question, maker = found.weighing.question, found.known_maker()
    unit = [s for s in question.of(ResolvedSerial) if not s.component]
    if not unit:
        raise QuestionError("A sighting needs the serial of the unit.", "Add what can be read of it; ? stands for a character that is gone.")
    if maker is None:
        raise QuestionError("The unit is probably not in this knowledge base, so nothing says which series its serial is of.", "Name the maker.")
    frame = found.weighing.frames[maker]
    line, _ = frame.u.blocks[found.entries[0].block]
    entries = {(entry.component, entry.place): entry for entry in fitted_entries(found)}
    dates = {piece.spots[maker]: piece.code for piece in question.of(ResolvedDate) if maker in piece.spots}
    read: dict[tuple[str, str], tuple[str, str]] = {}
    for legible in question.of(PlacedMark):
        if maker in legible.spots:
            read[legible.spots[maker]] = ("", str(legible.now))
    for seen in question.of(ResolvedFeature):
        spot = seen.spots.get(maker)
        if spot is not None and spot not in read:
            entry = entries[spot]
            if entry.variant and entry.probability >= found.weighing.assumptions.feature_settles_at:
                read[spot] = (entry.variant, "")
    if not read:
        remedy = "Read a casting number, or look at what tells the castings apart."
        raise QuestionError("No casting was looked at closely enough for a sighting.", remedy)
    rows = []
    for (component, place), (variant, mark) in read.items():
        key = (line.series_id, str(unit[0].now), component, place, variant, mark)
        rows.append(
            NewSighting(
                sighting_id=f"unit-{hashlib.sha256(repr(key).encode()).hexdigest()[:10]}",
                series_id=line.series_id,
                serial=str(unit[0].now),
                component_id=component,
                place=place,
                variant_id=variant,
                mark_read=mark,
                original="unknown",
                casting_date=dates.get((component, place), ""),
                name=spot_name(found.weighing.book, component, place),
            )
        )
    return rows


def columns(found: Iterable[NewSighting], **said: str) -> list[dict[str, str]]:
    """The rows with the columns of sightings.csv; what else was said of all of them: original, seen_on, observer, evidence."""
    return [{**{name: str(getattr(row, name, "")) for name in COLUMNS}, **said} for row in found]


def as_csv(rows: Sequence[Mapping[str, str]]) -> str:
    """Rows as a file for the dataset folder (RFC 4180)."""
    text = io.StringIO()
    writer = csv.DictWriter(text, fieldnames=list(rows[0]), lineterminator="\r\n")
    writer.writeheader()
    writer.writerows(rows)
    return text.getvalue()
