"""The variants of a component side by side: what they look like, how to tell them apart, when each was fitted."""

from kb.desk.sentences.numbers import span
from kb.store.book import Book, Row
from kb.web.address import step
from kb.web.pages.page import NotHere, Page, Request, Shown
from kb.web.pool import Opened
from kb.words.answers.base import Answer


class MarkOf(Answer):
    """A mark of a variant."""

    text: str
    kind: str
    where: str


class FeatureOf(Answer):
    """What a question is answered with on a variant; "" where nothing is recorded."""

    feature: str
    question: str
    value: str


class PictureOf(Answer):
    """A picture, at the address `file`."""

    picture: str
    file: str
    caption: str
    alt: str
    credit: str
    licence: str


class SpanOf(Answer):
    """When a variant was fitted in a line: first new by `from_low`..`from_high` ("" from the start), until the next by `to_low`..`to_high`."""

    series: str
    line: str
    model: str
    from_low: str
    from_high: str
    to_low: str
    to_high: str


class VariantOf(Answer):
    """One version of the component."""

    variant: str
    name: str
    how_to_tell: str
    same_function_as: str
    note: str
    marks: list[MarkOf]
    features: list[FeatureOf]
    spans: list[SpanOf]
    pictures: list[PictureOf]


class Comparison(Answer):
    """The variants of a component side by side."""

    component: str
    name: str
    where_to_look: str
    variants: list[VariantOf]


def component_of(book: Book, component_id: str) -> Row:
    """The row of a component.

    Raises:
        NotHere: there is none of that id.
    """
    if component_id not in book.components:
        raise NotHere(f'There is no component "{component_id[:60]}" in this knowledge base.', "Look it up among the components.")
    return book.components[component_id]


def answer(opened: Opened, asked: Request) -> Comparison:
    """Everything recorded about the variants."""
    book = opened.book
    component = component_of(book, asked.steps["component"])
    return Comparison(
        component=component.component_id,
        name=component.name,
        where_to_look=component.where_to_look or "",
        variants=[_variant(book, component, variant) for variant in book.variants_of.get(component.component_id, ())],
    )


def _variant(book: Book, component: Row, variant: Row) -> VariantOf:
    features = [(f, book.feature_values.get(f.feature_id, {}).get(variant.variant_id)) for f in book.features_of.get(component.component_id, ())]
    return VariantOf(
        variant=variant.variant_id,
        name=variant.name,
        how_to_tell=variant.how_to_tell,
        same_function_as=variant.same_function_as or "",
        note=variant.note or "",
        marks=[
            MarkOf(text=m.text, kind=m.kind, where=m.where or "") for m in book.marks_of(component.component_id) if m.variant_id == variant.variant_id
        ],
        features=[FeatureOf(feature=f.feature_id, question=f.question, value=_value(f, row)) for f, row in features],
        spans=_spans(book, component, variant),
        pictures=pictures_of(book, "variant", variant.variant_id),
    )


def _value(feature: Row, row: Row | None) -> str:
    if row is None:
        return ""
    if feature.kind != "measure":
        return row.value or ""
    unit = feature.unit or "mm"
    if row.low is not None and row.high is not None:
        return f"{row.low:g} to {row.high:g} {unit}"
    return f"up to {row.high:g} {unit}" if row.low is None else f"{row.low:g} {unit} or more"


def _spans(book: Book, component: Row, variant: Row) -> list[SpanOf]:
    """One entry for every line and model in which a change-over brings the variant or ends it."""
    rows = book.rows("select * from changeovers where component_id = ? order by line_id, first_new_order", component.component_id)
    spans: dict[tuple[str, str, str], dict[str, str]] = {}
    for row in rows:
        key = (row.series_id, row.line or "", row.model_id or "")
        if row.new_variant_id == variant.variant_id:
            spans.setdefault(key, {}).update(from_low=row.low, from_high=row.high)
        if row.old_variant_id == variant.variant_id:
            spans.setdefault(key, {}).update(to_low=row.low, to_high=row.high)
    none = dict.fromkeys(("from_low", "from_high", "to_low", "to_high"), "")
    return [SpanOf(series=series, line=line, model=model, **{**none, **ends}) for (series, line, model), ends in spans.items()]


def span_words(each: SpanOf) -> str:
    """When a variant was fitted, in words."""
    start = f"from {span(each.from_low, each.from_high)} on" if each.from_low else "from the start"
    return f"{start}, until {span(each.to_low, each.to_high)}" if each.to_low else f"{start}, to the end"


def pictures_of(book: Book, shows: str, shows_id: str) -> list[PictureOf]:
    """The pictures of one thing."""
    rows = book.rows(
        "select picture_id, caption, alt, credit, licence from pictures where shows = ? and shows_id = ? order by rowid", shows, shows_id
    )
    return [
        PictureOf(
            picture=row.picture_id, file=f"/pictures/{step(row.picture_id)}", caption=row.caption, alt=row.alt, credit=row.credit or "",
            licence=row.licence or "",
        )
        for row in rows
    ]  # fmt: skip


def sheet(opened: Opened, asked: Request) -> Shown:
    """The page."""
    found = answer(opened, asked)
    component = opened.book.components[found.component]
    values = {"found": found, "component": component, "pictures": pictures_of(opened.book, "component", found.component), "span_words": span_words}
    return Shown("compare.html", values)


COMPARE = Page("/compare/(?P<component>[^/]+?)", sheet, answer)
