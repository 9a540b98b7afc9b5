"""A feature of a component that was looked at or measured."""

from dataclasses import dataclass

from kb.desk.evidence.names import listed, locate, suggestion
from kb.desk.evidence.resolved import ResolvedObservation, Scope, resolves
from kb.store.book import Book
from kb.store.rows import FeatureRow
from kb.words.errors import QuestionError
from kb.words.evidence import Seen
from kb.words.lengths import measure
from kb.words.notation import simplify


@dataclass(frozen=True)
class ResolvedFeature(ResolvedObservation):
    """What a feature looks like, or measures. value: one of its values, or a number in its unit."""

    feature: FeatureRow
    value: str | float


@resolves("saw")
def resolve(scope: Scope, piece: Seen) -> ResolvedFeature:
    """Which feature it is, and the value recorded so.

    Raises:
        QuestionError: there is no such component, place or feature, or the value is none of it.
    """
    spots = locate(scope.book, scope.makers, piece.component, piece.place, str(piece))
    features = {f.feature_id: f for component, _ in spots.values() for f in scope.book.features_of.get(component, ())}
    wanted = piece.feature.lower()
    found = [features[wanted]] if wanted in features else [f for f in features.values() if f.feature_id.endswith("-" + wanted)]
    if not found:
        raise QuestionError(f'The {piece.component} has no feature "{piece.feature}".', suggestion(piece.feature, features))
    if len({f.component_id for f in found}) < len(found):
        raise QuestionError(f'"{piece.feature}" may be several features.', f"Name it by its id: {listed(f.feature_id for f in found)}.")
    feature = found[0]
    spots = {maker: spot for maker, spot in spots.items() if spot[0] == feature.component_id}
    return ResolvedFeature(str(piece), spots, feature, _value(scope.book, feature, piece.value))


def _value(book: Book, feature: FeatureRow, text: str) -> str | float:
    if feature.kind == "measure":
        measured, unit = measure(text, feature.unit), feature.unit or "mm"
        if measured is None:
            raise QuestionError(f'"{text}" is not a measure for "{feature.question}"', f"Write a number in {unit}, as in 34.9{unit}.")
        return measured
    values = choice_values(book, feature.feature_id)
    for value in [*values, "other"]:
        if simplify(value) == simplify(text):
            return value
    raise QuestionError(f'"{text}" is no answer to "{feature.question}"', f"Answer {listed([*values, 'other'])}.")


def choice_values(book: Book, feature_id: str) -> list[str]:
    """The distinct values recorded for a choice feature, in file order."""
    return list(dict.fromkeys(row.value for row in book.feature_values.get(feature_id, {}).values() if row.value is not None))
