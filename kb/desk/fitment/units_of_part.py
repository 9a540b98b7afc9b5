"""Which units does a part fit: its rules read backwards, as the units left the works."""

from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np

from kb.desk.fitment.rulebook import Rulebook
from kb.desk.posterior.built_ranges import Stretch, stretches
from kb.desk.posterior.maker_model import MakerModel
from kb.desk.sentences.fitment import condition_words
from kb.desk.sentences.listing import Promise, sentence
from kb.probability.catalogue.fitments import Rule
from kb.probability.production.blocks import Line
from kb.probability.production.cell_table import CellTable
from kb.probability.production.serial_search import printed
from kb.store.book import Book
from kb.store.rows import PartRow
from kb.words.answers.fitment import SourceRef, UnitRange, UnitsAnswer
from kb.words.applicability import Condition

Say = Callable[[str], str]


@dataclass(frozen=True)
class _FittedStretch:
    """A stretch of serials to which one rule applies, for one place."""

    cells: CellTable
    stretch: Stretch
    first: int
    last: int
    variant: str
    place: str
    sure: bool
    rule: Rule
    matching: frozenset[str] = frozenset()  # the variants possible here that the rule allows, if it asks for nothing else

    @property
    def line(self) -> Line:
        """The line of the block."""
        return self.cells.blocks[self.stretch.block][0]

    @property
    def order(self) -> int:
        """Production order of its first serial."""
        line, position = self.cells.blocks[self.stretch.block]
        return line.order(position, self.first)

    @property
    def where(self) -> tuple[object, ...]:
        """The serials and the place, whatever the rule."""
        return (self.line.line_id, self.stretch.model, self.place, self.order, self.last - self.first)

    @property
    def kind(self) -> tuple[object, ...]:
        """What pieces must share to be one entry."""
        return (self.line.line_id, self.stretch.model, self.place, self.sure, self.variant)


def units(book: Book, frames: dict[str, MakerModel], parts: Rulebook, part: PartRow) -> UnitsAnswer:
    """The stretches of serials that a part fits, sure ones and those to be checked, and the sentence for a listing."""
    found, promises = fitted_units(book, frames, parts, part, str)
    return UnitsAnswer(part_number=part.part_number, units=found, sentence=sentence(part.part_number, promises))


def fitted_units(book: Book, frames: dict[str, MakerModel], parts: Rulebook, part: PartRow, say: Say) -> tuple[list[UnitRange], list[Promise]]:
    """The stretches of serials that a part fits, and what a listing may promise of them. say: translates (`kb.desk.sentences.languages`)."""
    rules = parts.rules(part.part_number)
    pieces: list[_FittedStretch] = []
    for rule in rules:
        if rule.fits:
            frame = frames[book.components[rule.component_id].maker_id]
            cells, found = stretches(frame, rule.component_id, frame.assumptions.verdict_at_safety if part.safety_critical else None)
            for place in [rule.applies.place] if rule.applies.place else book.components[rule.component_id].places:
                for stretch in found:
                    pieces += _applied(book, parts, cells, stretch, rule, place or "")
    exceptions = [rule for rule in rules if not rule.fits]
    for rule in exceptions:
        pieces = [rest for piece in pieces for rest in _without(book, parts, piece, rule)]
    named = {piece.variant for piece in pieces}
    pieces = [replace(piece, variant="") for piece in pieces] if len(named) > 1 else pieces
    entries = _merged(book, pieces, say)
    return [entry for entry, _ in entries], _promises(book, entries, say)


def _applied(book: Book, parts: Rulebook, cells: CellTable, stretch: Stretch, rule: Rule, place: str) -> list[_FittedStretch]:
    """Where within one stretch a rule applies."""
    if not rule.applies.of_model(stretch.model):
        return []
    here = [c for c in rule.applies.conditions if c.component_id == rule.component_id and c.variant_id]
    allowed: frozenset[str] | None = None
    for condition in here:
        alike = parts.alike[condition.variant_id or ""]
        allowed = alike if allowed is None else allowed & alike
    recorded = stretch.variants - {""}
    if not recorded and book.variants_of.get(rule.component_id):
        return []
    matching = recorded if allowed is None else recorded & allowed
    if recorded and not matching:
        return []
    alone = matching if len(here) == len(rule.applies.conditions) and not (rule.measure_first or rule.proviso) else frozenset[str]()
    sure = _covers(book, rule.component_id, alone, stretch)
    variant = next(iter(matching)) if allowed is not None and len(matching) == 1 else ""
    return [_FittedStretch(cells, stretch, first, last, variant, place, sure, rule, alone) for first, last in _limited(cells, stretch, rule)]


def _limited(cells: CellTable, stretch: Stretch, rule: Rule) -> list[tuple[int, int]]:
    """The parts of a stretch within all limits of a rule; a limit of a series these cells are not of leaves nothing."""
    mine = np.flatnonzero(
        (cells.block == stretch.block)
        & cells.of_model(stretch.model)
        & (cells.first <= stretch.last)
        & (cells.last >= stretch.first)
    )
    true = np.ones(len(cells.units), dtype=bool)
    for limit in rule.applies.limits:
        true &= cells.within(limit)
    spans: list[tuple[int, int]] = []
    for cell in mine[np.argsort(cells.first[mine], kind="stable")]:
        if true[cell]:
            first, last = max(stretch.first, int(cells.first[cell])), min(stretch.last, int(cells.last[cell]))
            if spans and spans[-1][1] + 1 == first:
                spans[-1] = (spans[-1][0], last)
            else:
                spans.append((first, last))
    return spans


def _covers(book: Book, component_id: str, allowed: frozenset[str], stretch: Stretch) -> bool:
    """Whatever a unit of the stretch may have left the works with is allowed; a casting that nobody recorded never is."""
    return stretch.variants <= allowed or (not book.variants_of.get(component_id) and stretch.variants == {""})


def _without(book: Book, parts: Rulebook, piece: _FittedStretch, rule: Rule) -> list[_FittedStretch]:
    """The piece without what an exception ("does not fit") surely takes out of it; where the exception may apply, it is no longer sure."""
    if rule.component_id != piece.rule.component_id or rule.role != piece.rule.role or rule.applies.place not in (None, piece.place):
        return [piece]
    left = [piece]
    for covered in _applied(book, parts, piece.cells, piece.stretch, rule, piece.place):
        rest = []
        for each in left:
            first, last = max(each.first, covered.first), min(each.last, covered.last)
            if first > last:
                rest.append(each)
                continue
            rest += [replace(each, last=first - 1)] if each.first < first else []
            rest += [] if covered.sure else [replace(each, first=first, last=last, sure=False, matching=frozenset())]
            rest += [replace(each, first=last + 1)] if last < each.last else []
        left = rest
    return left


def _merged(book: Book, pieces: list[_FittedStretch], say: Say) -> list[tuple[UnitRange, str]]:
    """Answer entries with what to look for where a stretch is not sure; pieces that follow each other in production are one.

    What a sure piece promises is not said again as a doubt.
    """
    allowed: dict[object, frozenset[str]] = {}
    for p in pieces:
        allowed[p.where] = allowed.get(p.where, frozenset()) | p.matching
    pieces = [
        replace(p, sure=True, variant="") if not p.sure and _covers(book, p.rule.component_id, allowed[p.where], p.stretch) else p for p in pieces
    ]
    sure = {p.where for p in pieces if p.sure}
    at: dict[tuple[object, ...], list[_FittedStretch]] = {}  # what is said of the same serials and place, by one rule or several
    for p in dict.fromkeys(pieces):
        if p.sure or p.where not in sure:
            at.setdefault((*p.where, p.variant), []).append(p)
    joined: list[list[list[_FittedStretch]]] = []
    for alike in sorted(at.values(), key=lambda alike: (*alike[0].kind[:3], not alike[0].sure, alike[0].variant, alike[0].order)):
        last = joined[-1][-1][0] if joined else None
        if last is not None and last.kind == alike[0].kind and last.order + last.last - last.first + 1 == alike[0].order:
            joined[-1].append(alike)
        else:
            joined.append([alike])
    entries = []
    for group in sorted(joined, key=lambda g: (not g[0][0].sure, *g[0][0].kind[:1], g[0][0].order, *g[0][0].kind[1:3])):
        first, last = group[0][0], group[-1][0]
        rules = [p.rule for alike in group for p in alike]
        entry = UnitRange(
            model=first.stretch.model,
            series=first.line.series_id,
            serial_first=printed(first.cells, first.stretch.block, first.first),
            serial_last=printed(last.cells, last.stretch.block, last.last),
            variant=first.variant,
            place=first.place,
            sure=first.sure,
            sources=_sources(book, rules),
        )
        look = f" {say('or')} ".join(dict.fromkeys(_look_for(book, rule, say) for rule in rules))
        entries.append((entry, "" if first.sure else look))
    return entries


def _sources(book: Book, rules: list[Rule]) -> list[SourceRef]:
    refs = dict.fromkeys((rule.source_id, rule.page) for rule in rules)
    return [SourceRef(source=source, page=page, grade=book.sources[source].grade if source in book.sources else "D") for source, page in refs]


def _look_for(book: Book, rule: Rule, say: Say) -> str:
    """What shows, on the unit, that the rule applies."""
    words = [rule.measure_first] if rule.measure_first else []
    for condition in rule.applies.conditions:
        words.append(_sign(book, rule, condition, say))
    return "; ".join(dict.fromkeys(filter(None, words))) or say("which casting is fitted")


def _sign(book: Book, rule: Rule, condition: Condition, say: Say) -> str:
    if not condition.variant_id:
        return condition_words(book, rule.component_id, condition)
    marks = [m.text for m in book.marks_of(condition.component_id) if m.variant_id == condition.variant_id]
    name, variant = book.components[condition.component_id].name.lower(), book.variants[condition.variant_id]
    either = say("or")
    marked = say("{casting} marked {marks}").format(casting=name, marks=f" {either} ".join(marks[:2]))
    return marked if marks else f"{name}: {variant.how_to_tell or variant.name}"


def _promises(book: Book, entries: list[tuple[UnitRange, str]], say: Say) -> list[Promise]:
    """What is sure and what must be checked; models and places with the same serials are named together, a place only where it matters."""
    either, both = say("or"), say("and")
    grouped: dict[tuple[str, str, str], dict[str, list[str]]] = {}
    for entry, what in entries:
        model = book.models[entry.model].name if entry.model else book.series[entry.series].name
        grouped.setdefault((entry.serial_first, entry.serial_last, what), {}).setdefault(model, []).append(entry.place)
    places = {entry.place for entry, _ in entries}
    promises = []
    looks: dict[tuple[str, str, tuple[tuple[str, tuple[str, ...]], ...]], list[str]] = {}
    for (first, last, what), models in grouped.items():
        looks.setdefault((first, last, tuple((name, tuple(at)) for name, at in models.items())), []).append(what)
    for (first, last, at_places), whats in looks.items():
        models, what = {name: list(at) for name, at in at_places}, f" {either} ".join(filter(None, whats))
        names = [name if set(at) == places or at == [""] else f"{name} ({', '.join(dict.fromkeys(at))})" for name, at in models.items()]
        promises.append(Promise(f" {both} ".join(names), first, last, what))
    return promises
