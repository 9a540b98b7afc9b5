"""The field guide of a model: where its numbers are stamped, its castings side by side, what to look at first."""

from base64 import b64encode

from kb.desk.advice.checks import rank_checks
from kb.desk.advice.unit_targets import UnitTarget
from kb.desk.posterior.built_ranges import Stretch, stretches
from kb.desk.posterior.examination import Examination
from kb.desk.posterior.maker_model import MakerModel
from kb.desk.sentences.cautions import CLOSING, critical
from kb.desk.sentences.names import model_name
from kb.desk.sentences.numbers import stretch_words
from kb.desk.workshop.number_lookup import series_of
from kb.probability.dating.layout import Layout, decode
from kb.probability.production.cell_table import CellTable
from kb.probability.production.serial_search import printed
from kb.store.book import Book
from kb.store.lookups import images
from kb.store.rows import ComponentRow, DateCodeRow, ModelRow, SeriesRow
from kb.words.answers.workshop import Guide, GuideComponent, GuideDateCode, GuidePicture, GuideSeries, GuideVariant
from kb.words.dates import spell

MOST_CHECKS = 10
TOGETHER = 1  # stretches that meet are joined


def guide(book: Book, frame: MakerModel, model: ModelRow, found: Examination) -> Guide:
    """The guide.

    Args:
        found: the whole production of the maker, examined without any evidence: what tells most is ranked over it.
    """
    components = list(frame.components.values())
    named = [c.name for c in components if c.safety_critical]
    return Guide(
        name=model_name(book, frame.maker_id, model.model_id),
        series=[_series(book, frame, row, model.model_id) for row in frame.series],
        components=[_component(book, frame, row, model.model_id) for row in components],
        date_codes=[_date_code(book, row) for row in book.date_codes if row.maker_id == frame.maker_id],
        checks=rank_checks(found.weighing, found.posterior, UnitTarget(found), most=MOST_CHECKS),
        look_up=series_of(frame),
        critical=critical(named),
        closing=CLOSING,
    )


def _series(book: Book, frame: MakerModel, row: SeriesRow, model: str) -> GuideSeries:
    blocks = []
    for line in book.lines:
        if line.series_id != row.series_id:
            continue
        for index, block in enumerate(line.blocks):
            models = {name for name, _ in block.models}
            if model in models or models <= {""}:
                start = line.order(index, block.first)
                built = f", {spell(block.built)}" if block.built else ""
                blocks.append(f"{line.serial(start)} to {line.serial(start + block.count - 1)}{built}")
    return GuideSeries(name=row.name, stamped_on=row.stamped_on, blocks=blocks, pictures=_pictures(book, "series", row.series_id))


def _component(book: Book, frame: MakerModel, row: ComponentRow, model: str) -> GuideComponent:
    cells, parts = stretches(frame, row.component_id)
    marks: dict[str, list[str]] = {}
    for mark in book.marks_of(row.component_id):
        marks.setdefault(mark.variant_id, []).append(mark.text)
    variants = [
        GuideVariant(
            name=variant.name,
            how_to_tell=variant.how_to_tell,
            marks=list(dict.fromkeys(marks.get(variant.variant_id, []))),
            serials=_serials(cells, [p for p in parts if variant.variant_id in p.variants and p.model in (model, "")]),
            pictures=_pictures(book, "variant", variant.variant_id),
        )
        for variant in book.variants_of.get(row.component_id, [])
    ]
    features = [f.feature_id for f in book.features_of.get(row.component_id, [])]
    pictures = _pictures(book, "component", row.component_id) + [p for f in features for p in _pictures(book, "feature", f)]
    return GuideComponent(
        name=row.name,
        places=[place for place in row.places if place],
        where_to_look=row.where_to_look or "",
        safety_critical=bool(row.safety_critical),
        pictures=pictures,
        variants=variants,
    )


def _serials(cells: CellTable, parts: list[Stretch]) -> list[str]:
    """Stretches in words; those of one block that meet are one, with those in doubt said so."""
    joined: list[tuple[int, int, int, bool]] = []
    for part in sorted(parts, key=lambda p: (p.block, p.first)):
        if joined and joined[-1][0] == part.block and joined[-1][2] + TOGETHER == part.first and joined[-1][3] == part.sure:
            joined[-1] = (part.block, joined[-1][1], part.last, part.sure)
        else:
            joined.append((part.block, part.first, part.last, part.sure))
    return [
        stretch_words(printed(cells, block, first), printed(cells, block, last)) + ("" if sure else " (or another)")
        for block, first, last, sure in joined
    ]


def _date_code(book: Book, row: DateCodeRow) -> GuideDateCode:
    layout = Layout.parse(row.layout, row.month_letters, row.century_from)
    shown = layout.example()
    meant = next(span for span in decode(shown, layout) if span.first <= layout.example_day <= span.last)
    where = book.components[row.component_id].name if row.component_id else "castings"
    return GuideDateCode(where=where, layout=layout.text, example=shown, means=spell(meant), note=row.note or "")


def _pictures(book: Book, shows: str, shows_id: str) -> list[GuidePicture]:
    rows = images(book, shows, shows_id)
    return [GuidePicture(caption=row.caption, alt=row.alt, address=f"data:{row.media_type};base64,{b64encode(row.data).decode()}") for row in rows]
