"""The variants of a component side by side: what they look like, how to tell them apart, when each was fitted."""

from collections.abc import Sequence
from typing import Any

from kb.desk.evidence.names import named, suggestion
from kb.store import lookups
from kb.store.book import Book
from kb.words.addresses import step
from kb.words.answers.catalogue import Comparison, FeatureOf, MarkOf, PictureOf, SpanOf, VariantOf
from kb.words.errors import QuestionError


def compare(book: Book, component: str, variants: Sequence[str] = ()) -> Comparison:
    """Everything recorded about the variants of a component.

    Args:
        component: id or name.
        variants: only these, by id or name; all if there are none.

    Raises:
        QuestionError: there is no such component, or it has no such variant.
    """
    row = named(book.components, component, "component")
    known = book.variants_of.get(row.component_id, [])
    wanted = {_one_of(known, each, row.name) for each in variants}
    return Comparison(
        component=row.component_id,
        name=row.name,
        where_to_look=row.where_to_look or "",
        variants=[_variant(book, row.component_id, each) for each in known if not wanted or each.variant_id in wanted],
    )


def _one_of(known: Sequence[Any], text: str, component: str) -> str:
    found = [each.variant_id for each in known if text in (each.variant_id, each.name)]
    if len(found) != 1:
        names = [name for each in known for name in (each.variant_id, each.name)]
        raise QuestionError(f'The {component} has no variant "{text}".', suggestion(text, names))
    return str(found[0])


def _variant(book: Book, component_id: str, variant: Any) -> VariantOf:
    features = [(each, book.feature_values.get(each.feature_id, {}).get(variant.variant_id)) for each in book.features_of.get(component_id, ())]
    marks = [each for each in book.marks_of(component_id) if each.variant_id == variant.variant_id]
    return VariantOf(
        variant=variant.variant_id,
        name=variant.name,
        how_to_tell=variant.how_to_tell,
        same_function_as=variant.same_function_as or "",
        note=variant.note or "",
        marks=[MarkOf(text=each.text, kind=each.kind, where=each.where or "") for each in marks],
        features=[FeatureOf(feature=each.feature_id, question=each.question, value=_value(each, row)) for each, row in features],
        spans=_spans(book, component_id, variant.variant_id),
        pictures=pictures_of(book, "variant", variant.variant_id),
    )


def _value(feature: Any, row: Any) -> str:
    if row is None:
        return ""
    if feature.kind != "measure":
        return row.value or ""
    unit = feature.unit or "mm"
    if row.low is not None and row.high is not None:
        return f"{row.low:g} to {row.high:g} {unit}"
    return f"up to {row.high:g} {unit}" if row.low is None else f"{row.low:g} {unit} or more"


def _spans(book: Book, component_id: str, variant: str) -> list[SpanOf]:
    """One entry for every line and model in which a change-over brings the variant or ends it."""
    spans: dict[tuple[str, str, str], dict[str, str]] = {}
    for row in sorted(book.changeovers_of(component_id), key=lambda row: (row.line_id, row.first_new_order)):
        key = (row.series_id, row.line or "", row.model_id or "")
        if row.new_variant_id == variant:
            spans.setdefault(key, {}).update(from_low=row.low, from_high=row.high)
        if row.old_variant_id == variant:
            spans.setdefault(key, {}).update(to_low=row.low, to_high=row.high)
    none = dict.fromkeys(("from_low", "from_high", "to_low", "to_high"), "")
    return [
        SpanOf(where=_where(book, series, line, model), series=series, line=line, model=model, **{**none, **ends})
        for (series, line, model), ends in spans.items()
    ]


def _where(book: Book, series: str, line: str, model: str) -> str:
    return ", ".join(filter(None, (book.series[series].name, line, book.models[model].name if model else "")))


def pictures_of(book: Book, shows: str, shows_id: str) -> list[PictureOf]:
    """The pictures of one thing."""
    return [
        PictureOf(
            picture=row.picture_id, file=f"/pictures/{step(row.picture_id)}", caption=row.caption, alt=row.alt, credit=row.credit or "",
            licence=row.licence or "",
        )
        for row in lookups.pictures(book, shows, shows_id)
    ]  # fmt: skip
