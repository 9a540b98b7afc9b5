"""The archivist's view: what the evidence makes of every change-over, and where what is recorded does not agree."""

import json

from kb.desk.evidence.names import suggestion
from kb.desk.review.changeover_detail import ChangeOverDetail, built_under
from kb.desk.sentences.names import changeover_name
from kb.desk.sentences.sources import claim_words
from kb.store import changeovers as stored
from kb.store.book import Book
from kb.store.rows import ChangeoverClaimRow, ChangeoverOddSightingRow, ChangeoverRow
from kb.words.answers.review import ChangeOver, ClaimEntry, Dispute, MixedWidth, OddSighting, ReplacedRate, ReviewAnswer, Seek
from kb.words.errors import QuestionError


def review(book: Book, series: str | None = None, component: str | None = None) -> ReviewAnswer:
    """All change-overs, or those of one series or component, and the disputes about them; those of one component of one series in full.

    Raises:
        QuestionError: there is no such series or component.
    """
    for name, known, what in ((series, book.series, "series"), (component, book.components, "component")):
        if name is not None and name not in known:
            raise QuestionError(f'There is no {what} "{name}" in this knowledge base.', suggestion(name, known))
    rows = [
        row
        for row in stored.changeovers(book)
        if series in (None, row.series_id) and component in (None, row.component_id)
    ]
    claims = stored.judged_claims(book)
    odd = stored.odd_sightings(book)
    names = {row.changeover_id for row in rows}
    disputes = [
        Dispute(kind=row.kind, subject=row.subject, text=row.text, sources=json.loads(row.sources))
        for row in stored.disputes(book)
        if (series is None and component is None) or row.subject in names or row.subject in (series, component)
    ]
    found = [_changeover(book, row, claims, odd) for row in rows]
    if series is not None and component is not None:
        weighing = ChangeOverDetail(book, series, component)
        found = [weighing.in_full(row.changeover_id, each) for row, each in zip(rows, found, strict=True)]
    return ReviewAnswer(changeovers=found, disputes=disputes, replaced_rate=_rate(book))


def _rate(book: Book) -> ReplacedRate | None:
    told = book.info.get("replaced_rate")
    return ReplacedRate(assumed=built_under(book).replaced_when_unknown, **json.loads(told)) if told else None


def _changeover(
    book: Book, row: ChangeoverRow, claims: dict[str, list[ChangeoverClaimRow]], odd: dict[str, list[ChangeoverOddSightingRow]]
) -> ChangeOver:
    said = stored.breakpoints(book, row.series_id, row.component_id)
    return ChangeOver(
        name=changeover_name(book, row.component_id, row.old_variant_id or "", row.new_variant_id),
        series=row.series_id,
        line=row.line or "",
        component=row.component_id,
        model=row.model_id or "",
        old_variant=row.old_variant_id or "",
        new_variant=row.new_variant_id,
        first_new=row.first_new,
        low=row.low,
        high=row.high,
        probability=row.probability,
        mixed=[MixedWidth(**entry) for entry in json.loads(row.mixed)],
        claims=[
            ClaimEntry(
                breakpoint_id=claim.breakpoint_id,
                source=said[claim.breakpoint_id].source_id,
                first_new=said[claim.breakpoint_id].first_new or "",
                says=claim_words(said[claim.breakpoint_id]),
                page=said[claim.breakpoint_id].page or "",
                standing=claim.standing,
                probability=claim.probability,
            )
            for claim in claims.get(row.changeover_id, ())
        ],
        sightings=row.sightings,
        odd_sightings=[OddSighting(sighting_id=o.sighting_id, probability=o.probability) for o in odd.get(row.changeover_id, ())],
        seek=Seek(serial=row.seek_serial, gain_bits=row.seek_gain_bits) if row.seek_serial else None,
        both_from=row.first_new if row.both_to else "",
        both_to=row.both_to or "",
        units=row.units_concerned,
    )
