"""A loose casting: what is it off (docs/model.md, section 11)."""

from collections import defaultdict
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from kb.assumptions import Assumptions
from kb.desk.advice.rereading import characters, unrecorded_again
from kb.desk.identify.provenance import Provenance
from kb.desk.posterior.built_ranges import built_with
from kb.desk.sentences.checks import meaning
from kb.desk.sentences.names import match_name, of_maker
from kb.desk.sentences.readings import MOST_NAMED, part_of_marks, suits_elsewhere, suits_unrecorded
from kb.probability.channel.alignment import seen_again
from kb.probability.channel.automaton import ReadingAutomata, compile_readings, level_of, looked_again
from kb.probability.channel.background import TextModel
from kb.probability.channel.marks import MANY
from kb.probability.channel.reading import Reading
from kb.probability.channel.truncated import part_of
from kb.probability.channel.unrecorded_runs import gaps
from kb.store.book import Book
from kb.store.rows import ComponentRow, MarkWithOwnerRow
from kb.words.answers.identification import CastingAnswer, Check, Match, NearMark
from kb.words.notation import simplify

Floats = NDArray[np.float64]
LEAST_SHOWN = 0.0001  # display
MOST_SHOWN = 50
TINY = 1e-300  # numeric: instead of dividing by nothing
AS_REREAD = 200  # mark texts considered when asking which character to re-read


def casting(book: Book, origin: Provenance, typed: str, wear: str | None, again: Mapping[int, str], assumptions: Assumptions) -> CastingAnswer:
    """Which recorded marks a worn casting number may be.

    Args:
        origin: where the casting came from, as far as that is known.
        again: what a second look at some characters showed, by their place, counted from 1.

    Raises:
        DataError: the reading is not in the notation, or has no such characters.
        QuestionError: nothing is recorded of the units that the casting is said to be off.
    """
    reading = Reading.parse(typed)
    seen, again = again, {position - 1: simplify(character) for position, character in again.items()}
    compiled = looked_again(compile_readings([reading], [wear], assumptions), 0, again, assumptions)
    candidates = _among_left(origin, compiled) if origin.said else _among_every(book, compiled)
    texts, known_share = candidates.texts, 1 - assumptions.not_in_knowledge_base
    known, rest = candidates.weights * candidates.priors * known_share, candidates.rest * known_share
    unknown = assumptions.not_in_knowledge_base * book.text_models["mark"].evidence(compiled)
    total = float(known.sum()) + rest + unknown
    posterior = known / total if total > 0 else known
    matches = []
    for i in np.argsort(-posterior, kind="stable")[:MOST_SHOWN]:
        if posterior[i] >= LEAST_SHOWN:
            matches += _matches(origin, candidates, texts[i], float(posterior[i]))
    matches.sort(key=lambda m: (-m.probability, m.mark, m.component))
    now = reading.seen_again(again)
    nowhere = _recorded_nowhere(now, posterior, texts, unknown / total if total else 1.0)
    piece_of = part_of(now, candidates.recorded) if nowhere else None
    return CastingAnswer(
        reading=typed,
        said=origin.said,
        matches=matches,
        not_in_knowledge_base=unknown / total if total > 0 else 1.0,
        check_next=_check_next(compiled, book.text_models["mark"], again, texts, known, rest, unknown, assumptions),
        near=_near(book, now, candidates, assumptions) if nowhere and piece_of is None else [],
        cannot_tell=_cannot_tell(reading, wear, compiled, candidates, assumptions),
        part_of=_part_of(now, candidates, *piece_of) if piece_of else "",
        elsewhere=_elsewhere(book, casting(book, origin.anywhere, typed, wear, seen, assumptions)) if origin.said and nowhere else "",
    )


Rows = list[tuple[MarkWithOwnerRow, ComponentRow | None]]


@dataclass(frozen=True)
class _Candidates:
    """Texts that a reading may be of, with their weights and priors.

    rest: what all others weigh together, by their priors; recorded: all texts that are left, in order; share: what the rows of one text that are
    of one mark and component have of its prior, up to a common factor.
    """

    texts: list[str]
    weights: Floats
    priors: Floats
    rest: float
    recorded: Sequence[str]
    rows: Callable[[str], Rows]
    share: Callable[[list[MarkWithOwnerRow]], float]


def _among_left(origin: Provenance, compiled: ReadingAutomata) -> _Candidates:
    """The texts of the castings left, weighed one by one."""
    book, left = origin.book, {component.component_id: component for component in origin.components}
    marked = book.marked(tuple(left))
    texts, likely = list(marked.index.texts), {variant: p for of in origin.likely.values() for variant, p in of.items()}
    drawn = np.array([likely.get(variant, 0.0) for variant in marked.variants]) / np.bincount(marked.variant, minlength=len(marked.variants))
    of_variant = dict(zip(marked.variants, drawn.tolist(), strict=True))
    priors = np.bincount(marked.text, drawn[marked.variant], len(texts)) if likely else np.ones(len(texts))

    def rows(text: str) -> Rows:
        return [(mark, component) for mark, component in book.rows_of_mark(text) if component is not None and component.component_id in left]

    def share(marks: list[MarkWithOwnerRow]) -> float:
        return sum((of_variant[mark.variant_id] for mark in marks if mark.variant_id), 0.0)

    priors = priors / max(float(priors.sum()), TINY)
    weights = marked.index.weights(compiled) if texts else np.zeros(0)
    return _Candidates(texts, weights, priors, 0.0, texts, rows, share if likely else _alike)


def _among_every(book: Book, compiled: ReadingAutomata) -> _Candidates:
    """All texts, in a large catalogue the best of them, found in the stored index; foundry marks are few and weighed one by one."""
    recorded = book.mark_index.texts
    if len(recorded) >= MANY:
        found = book.mark_index.best(compiled)
        telling, weights, rest = [recorded[i] for i in found.texts], found.weights, found.rest
    else:
        telling, weights, rest = list(recorded), book.mark_index.weights(compiled), 0.0
        recorded = tuple(sorted({*recorded, *book.foundry_marks}))
    foundry = sorted(set(book.foundry_marks).difference(book.mark_index.texts))
    weights = np.concatenate([weights, book.index_of(tuple(foundry)).weights(compiled) if foundry else np.zeros(0)])
    each = 1 / max(1, len(book.mark_index.texts) + len(foundry))
    return _Candidates(telling + foundry, weights, np.full(len(weights), each), rest * each, recorded, book.rows_of_mark, _alike)


def _alike(marks: list[MarkWithOwnerRow]) -> float:
    return 1.0


def _grouped(rows: Rows) -> dict[tuple[str, str], list[MarkWithOwnerRow]]:
    """The rows of one text by mark and component, "" for a mark that tells no variant."""
    groups: dict[tuple[str, str], list[MarkWithOwnerRow]] = {}
    for mark, component in rows:
        groups.setdefault((mark.mark_id, component.component_id if component else ""), []).append(mark)
    return groups


def _matches(origin: Provenance, candidates: _Candidates, text: str, probability: float) -> list[Match]:
    """One entry for each mark and component that carries the text; they share its probability."""
    book, groups = origin.book, _grouped(candidates.rows(text))
    whole = sum(map(candidates.share, groups.values()))
    found = []
    for (mark_id, component_id), mine in groups.items():
        variants = list(dict.fromkeys(m.variant_id for m in mine if m.variant_id))
        maker = book.components[component_id].maker_id if component_id else ""
        models, first, last = built_with(origin.frame(maker), component_id, variants) if component_id else ([], "", "")
        found.append(
            Match(
                name=match_name(book, component_id, variants),
                mark=mark_id,
                text=mine[0].text,
                component=component_id,
                variants=variants,
                maker=maker,
                models=models,
                serial_first=first,
                serial_last=last,
                probability=probability * candidates.share(mine) / whole,
            )
        )
    return found


def _recorded_nowhere(reading: Reading, posterior: Floats, texts: Sequence[str], unknown: float) -> bool:
    """Whether the answer amounts to "no such mark is recorded"."""
    return unknown >= posterior.max(initial=0.0) or (reading.plain and not any(map(reading.could_be, texts)))


def _elsewhere(book: Book, found: CastingAnswer) -> str:
    """What a reading suits that suits nothing of what was said. found: the answer to it if nothing is said."""
    likely: dict[str, list[Match]] = defaultdict(list)
    for match in found.matches:
        likely[match.component].append(match)
    component, matches = max(likely.items(), key=lambda each: sum(match.probability for match in each[1]), default=("", []))
    probability = sum(match.probability for match in matches)
    if not component or probability <= 0.5:  # numeric: less likely than not
        return ""
    return suits_elsewhere(of_maker(book, component), [m.text for m in matches], probability)


def _part_of(reading: Reading, candidates: _Candidates, written: Reading, whole: list[str]) -> str:
    as_cast = [candidates.rows(text)[0][0].text for text in whole[: MOST_NAMED]]
    return part_of_marks(reading.text, str(written), [*as_cast, *whole[len(as_cast) :]])


def _near(book: Book, reading: Reading, candidates: _Candidates, assumptions: Assumptions) -> list[NearMark]:
    """The recorded marks nearest to a reading, each with what it is on."""
    from kb.probability.channel.nearest import nearest  # only a mark that is recorded nowhere needs it

    found = []
    for text, apart in nearest(reading, candidates.recorded, assumptions):
        rows = candidates.rows(text)
        for component_id in dict.fromkeys(component.component_id if component else "" for _, component in rows):
            mine = [mark for mark, component in rows if (component.component_id if component else "") == component_id]
            variants = list(dict.fromkeys(mark.variant_id for mark in mine if mark.variant_id))
            found.append(NearMark(text=mine[0].text, name=match_name(book, component_id, variants), component=component_id, apart=apart))
    return found


def _cannot_tell(reading: Reading, wear: str | None, compiled: ReadingAutomata, candidates: _Candidates, assumptions: Assumptions) -> list[str]:
    """That a worn reading suits numbers nobody recorded as well as the recorded ones around them."""
    if level_of(reading, wear) == "clean" or not len(candidates.weights) or candidates.weights.max() <= 0:
        return []
    found = gaps(compiled, candidates.texts[int(candidates.weights.argmax())], candidates.recorded, assumptions)
    return [suits_unrecorded(reading.text, **vars(found))] if found else []


def _check_next(
    compiled: ReadingAutomata,
    strangers: TextModel,
    again: Mapping[int, str],
    texts: list[str],
    known: Floats,
    others: float,
    unknown: float,
    assumptions: Assumptions,
) -> list[Check]:
    """The characters whose re-reading would tell most about which mark it is. others: what all marks weigh that are not among the texts."""
    total = float(known.sum()) + unknown
    if not len(known) or known.max() <= 0:
        return []
    top = np.argsort(-known, kind="stable")[:AS_REREAD]
    top = top[known[top] > known.max() * 1e-6]  # numeric
    some = [texts[i] for i in top]
    labels = [*some, "another mark", "not in this knowledge base"]
    rest = float(known.sum() - known[top].sum()) + others
    reading = compiled.readings[0]
    _, of_texts = seen_again(compiled.parts[0], reading, some, assumptions)
    of_strangers = unrecorded_again(compiled.parts[0], reading, strangers, assumptions)
    chance = np.append(known[top], [max(0.0, rest), unknown]) / (total + others)
    checks = []
    tables = chance[:, None] * np.hstack([of_texts, of_strangers, of_strangers])
    for found in characters(tables, reading, "casting number", lambda position, seen: {"again": f"{position + 1}={seen}"}, again):
        chances = found.joint.sum(axis=0)
        outcomes = []
        for i, name in enumerate(found.outcomes):
            if chances[i] > 0.001:  # display
                best = int(found.joint[:, i].argmax())
                then = float(found.joint[best, i] / chances[i])
                outcomes.append(meaning(name, labels[best], then, float(chances[i]), found.adds(i)))
        outcomes.sort(key=lambda o: -o.probability)
        checks.append(Check(check=found.check, effort=assumptions.cleaning_minutes, gain_bits=found.bits, outcomes=outcomes))
    return sorted(checks, key=lambda c: -c.gain_bits)[:5]
