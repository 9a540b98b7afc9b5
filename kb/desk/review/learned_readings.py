"""What the confirmed readings of the dataset taught, and which of them could not teach (docs/model.md, section 12).

The build has learned already and wrote what it found into the file; here it is set beside the table as shipped, reading by reading.
"""

import json
from collections.abc import Mapping, Sequence
from typing import Any

import numpy as np

from kb.assumptions import Assumptions
from kb.desk.review.changeover_detail import built_under
from kb.desk.sentences.readings import (
    CLEAN_HAS_NO_EXPONENT,
    HOW_TO_RECORD,
    NOTHING_LEARNED,
    cannot_be_its_truth,
    fitted_to_some,
    too_few_readings,
    truth_is_no_mark,
)
from kb.probability.channel.learning import FITTED_TO, Confirmed, count
from kb.probability.channel.reading import Reading
from kb.probability.channel.wear import LEVELS, confusion
from kb.store.book import Book
from kb.store.changeovers import confirmed_readings
from kb.store.rows import ConfirmedReadingRow
from kb.words.answers.review import LearnedMisreading, LevelLearned, ReadingLeftOut, ReadingsReview, ReliabilityBin
from kb.words.notation import ALPHABET, normalise

LEAST_RISE = 0.001  # display: of P(read as | true); smaller ones are not listed


def review_readings(book: Book) -> ReadingsReview:
    """What was learned from how many; with no readings, that nothing was and what to record."""
    learned: dict[str, Any] = json.loads(book.info["learned"])
    rows = confirmed_readings(book)
    taught = built_under(book)
    usual = float(learned.get("sharpness_usual", Assumptions().sharpness))
    shipped = taught.override(confirmed={}, sharpness=usual)
    known = frozenset(book.mark_index.texts) if rows else frozenset()
    confirmed = [Confirmed(Reading.parse(row.reading), normalise(row.truth), row.wear) for row in rows]
    explained = [bool(count([each], shipped)[1]) for each in confirmed]
    fit = [usable and each.wear != "clean" and each.truth in known for each, usable in zip(confirmed, explained, strict=True)]
    diagram = [ReliabilityBin(low=b["from"], high=b["to"], count=b["count"], stated=b["stated"], right=b["right"]) for b in learned["diagram"]]
    return ReadingsReview(
        readings=len(rows),
        used=sum(explained),
        fitted=learned["fitted"],
        exponent_usual=usual,
        exponent=learned["sharpness"],
        levels=[_level(wear, confirmed, explained, learned["confirmed"], shipped, taught) for wear in LEVELS],
        misreadings=_misreadings(learned["confirmed"], shipped, taught),
        left_out=[_left_out(row, each, usable) for row, each, usable, used in zip(rows, confirmed, explained, fit, strict=True) if not used],
        diagram=diagram,
        calibration_error=_calibration_error(diagram),
        advice=_advice(len(rows), sum(fit)),
    )


def _level(
    wear: str, confirmed: Sequence[Confirmed], explained: Sequence[bool], counts: Mapping[str, float], shipped: Assumptions, taught: Assumptions
) -> LevelLearned:
    mine = [(key.split()[1], value) for key, value in counts.items() if key.split()[0] == wear]
    rates = [float(1 - np.diagonal(confusion(wear, assumptions)).mean()) for assumptions in (shipped, taught)]
    return LevelLearned(
        wear=wear,
        readings=sum(usable and each.wear == wear for each, usable in zip(confirmed, explained, strict=True)),
        characters=round(sum(value for _, value in mine), 6),
        misread=round(sum(value for pair, value in mine if pair[0] != pair[2]), 6),
        rate_usual=round(rates[0], 6),
        rate=round(rates[1], 6),
    )


def _misreadings(counts: Mapping[str, float], shipped: Assumptions, taught: Assumptions) -> list[LearnedMisreading]:
    tables = {wear: [confusion(wear, assumptions) for assumptions in (shipped, taught)] for wear in LEVELS}
    found = []
    for key, value in counts.items():
        wear, pair = key.split()
        true, seen = pair[0], pair[2]
        usual, learned = (float(table[ALPHABET.index(true), ALPHABET.index(seen)]) for table in tables[wear])
        if true != seen and learned - usual >= LEAST_RISE:
            found.append(LearnedMisreading(wear=wear, true=true, read_as=seen, count=value, usual=round(usual, 6), learned=round(learned, 6)))
    return sorted(found, key=lambda each: (each.usual - each.learned, each.wear, each.true, each.read_as))


def _left_out(row: ConfirmedReadingRow, confirmed: Confirmed, usable: bool) -> ReadingLeftOut:
    if not usable:
        why = cannot_be_its_truth(row.reading, row.truth)
    elif confirmed.wear == "clean":
        why = CLEAN_HAS_NO_EXPONENT
    else:
        why = truth_is_no_mark(row.truth)
    return ReadingLeftOut(
        reading_id=row.reading_id, reading=row.reading, truth=row.truth, used_for="the table" if usable else "nothing", why=why
    )


def _calibration_error(diagram: Sequence[ReliabilityBin]) -> float | None:
    total = sum(each.count for each in diagram)
    return round(sum(each.count * abs(each.stated - each.right) for each in diagram) / total, 6) if total else None


def _advice(readings: int, fit: int) -> list[str]:
    if not readings:
        return [NOTHING_LEARNED, HOW_TO_RECORD]
    if fit < FITTED_TO:
        return [too_few_readings(fit, FITTED_TO), HOW_TO_RECORD]
    return [fitted_to_some(fit, FITTED_TO)] if fit > FITTED_TO else []
