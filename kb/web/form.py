"""The form "a unit in front of me": what was typed, what is wrong with it field by field, and the evidence it makes.

The form works without JavaScript: rows are repeated names, side by side in order, and "more rows" sends the form back longer.
A finished form leads to the address that carries its evidence in the notation of the command line.
"""

from collections.abc import Iterator
from dataclasses import dataclass, field
from functools import cached_property
from typing import Literal

from pydantic import ValidationError

from kb.desk.evidence.resolve import resolve
from kb.store.book import Book
from kb.store.rows import ComponentRow, FeatureRow, MakerRow
from kb.web.address import Query
from kb.words.errors import DataError, KbError, QuestionError
from kb.words.evidence import AGAIN, CONTEXT, WEAR, WRITTEN, Evidence, EvidenceKind

MOST_AT_ONCE = 100.0  # marks, or what costs as much, of one visitor at once; on a unit with twenty places nobody reads half of that
MOST_OFFERED = 300  # component places in one list; beyond that a maker must be chosen first
Control = Literal["series", "place", "look", "measure", "text"]


@dataclass(frozen=True)
class Section:
    """The rows of the form for one kind of evidence, or for what is measured of it. control: what stands beside the box to type in."""

    name: str
    kind: EvidenceKind
    control: Control
    heading: str
    plural: str
    hint: str = ""

    @property
    def about(self) -> str:
        """The name of the field that says what it is about, "" where one field has the whole piece."""
        return {"series": f"{self.name}_of", "place": f"{self.name}_on", "measure": f"{self.name}_of"}.get(self.control, "")

    @property
    def box(self) -> str:
        """What the field that is typed into is called."""
        return "Measure" if self.control == "measure" else self.heading if self.control == "series" else self.kind.label.capitalize()

    @property
    def beside(self) -> str:
        """What the field beside it is called."""
        asks = {"series": "which number", "place": "on which component", "measure": "what was measured"}.get(self.control, "")
        return asks.capitalize() if self.kind.first or self.control == "measure" else f"{self.box}: {asks}"

    @property
    def typed(self) -> str:
        """The name of the field that is typed into."""
        return f"{self.name}_is" if self.about else self.name


def _sections(kind: EvidenceKind) -> Iterator[Section]:
    if kind.about == "feature":
        yield Section(kind.name, kind, "look", kind.heading, kind.plural, kind.hint)
        yield Section("measure", kind, "measure", "Measured", "measures")
    else:
        yield Section(kind.name, kind, "text" if kind.about == "reading" else kind.about, kind.heading, kind.plural, kind.hint)


SECTIONS = {section.name: section for kind in WRITTEN for section in _sections(kind)}
_TYPED = [name for section in SECTIONS.values() if section.about for name in (section.about, section.typed)]


@dataclass
class Line:
    """One row of the form: what it is about, what was typed, and what is wrong with it."""

    about: str = ""
    typed: str = ""
    error: KbError | None = None

    @property
    def empty(self) -> bool:
        """Nothing was typed."""
        return not self.typed

    @property
    def notation(self) -> str:
        """As the command line writes it."""
        return f"{self.about}={self.typed}" if self.about else self.typed


@dataclass
class Form:
    """The whole form. `lines`: by section."""

    maker: str = ""
    model: str = ""
    wear: str = ""
    lines: dict[str, list[Line]] = field(default_factory=dict)
    errors: dict[str, KbError] = field(default_factory=dict)  # of what is said once; "" is the whole
    typed: bool = False  # it comes from the form and not from an address made by it
    more: str = ""

    @property
    def wrong(self) -> bool:
        """Something cannot be understood."""
        return bool(self.errors) or any(line.error for lines in self.lines.values() for line in lines)

    @property
    def messages(self) -> list[KbError]:
        """All that is wrong."""
        return [*self.errors.values(), *(line.error for lines in self.lines.values() for line in lines if line.error)]

    def evidence(self) -> Evidence:
        """What it says of the unit.

        Raises:
            KbError: the first thing that is wrong.
        """
        for error in self.messages:
            raise error
        evidence = _evidence(self, {name: [line.notation for line in lines if not line.empty] for name, lines in self.lines.items()})
        if sum(kind.cost * len(getattr(evidence, kind.field)) for kind in WRITTEN) > MOST_AT_ONCE:
            raise QuestionError("That is more evidence than can be weighed at once here.", "Leave out what is told twice, or use kb on a computer.")
        return evidence

    def rows(self, section: str) -> list[Line]:
        """The rows to show: those filled in, with empty ones behind."""
        filled = [line for line in self.lines.get(section, ()) if not line.empty or line.about]
        return filled + [Line() for _ in range(3 if self.more == section else 1)]

    @property
    def sections(self) -> list[Section]:
        """What the form asks for, in order."""
        return list(SECTIONS.values())

    @property
    def further(self) -> bool:
        """Something is said, or asked for, in the part of the form that is closed at first."""
        closed = [section.name for section in SECTIONS.values() if not section.kind.first]
        return bool(self.wear or self.more in closed or any(self.lines.get(name) for name in closed))


def read_form(book: Book, query: Query) -> Form:
    """Read an address, whether made by the form or by hand, and check every piece by itself."""
    form = Form(query.one("maker"), query.one("model"), query.one("wear"), more=query.one("more"))
    form.typed = any(name in query for name in _TYPED) or "more" in query
    form.lines = {section.name: _columns(query, section.about, section.typed) if section.about else [] for section in SECTIONS.values()}
    for section in SECTIONS.values():
        for text in filter(None, query.all(section.name)):
            if section.control == "look":
                about, _, value = text.partition("=")
                form.lines["measure" if _is_measure(book, about) else section.name].append(Line(about, value))
            elif section.control != "measure":
                form.lines[section.name].append(Line(typed=text) if section.control == "text" else _split(text))
    _check(book, form)
    return form


def _columns(query: Query, about: str, typed: str) -> list[Line]:
    abouts, values = query.all(about), query.all(typed)
    return [Line(a, v) for a, v in zip(abouts + [""] * (len(values) - len(abouts)), values, strict=False)]


def _split(text: str) -> Line:
    about, _, value = text.rpartition("=")
    return Line(about.strip(), value.strip() if value.strip() else text)


def _is_measure(book: Book, about: str) -> bool:
    feature = book.features.get(about.rpartition(".")[2])
    return feature is not None and feature.kind == "measure"


def _evidence(form: Form, pieces: dict[str, list[str]]) -> Evidence:
    """pieces: by section."""
    lists: dict[str, list[str]] = {}
    for name, texts in pieces.items():
        lists.setdefault(SECTIONS[name].kind.field, []).extend(texts)
    return Evidence(**{each.name: getattr(form, each.name) or None for each in CONTEXT}, **lists)


def _check(book: Book, form: Form) -> None:
    """Say of every piece what is wrong with it, so that the message can stand beside its field."""
    if form.wear and form.wear not in WEAR.choices:
        form.errors["wear"] = DataError(f'"{form.wear}" is not a degree of wear.', f"Choose one of {', '.join(WEAR.choices)}.")
    if "wear" not in form.errors:
        try:
            resolve(book, _evidence(form, {}))
        except KbError as error:
            form.errors["model" if form.model else "maker"] = error
    alone = Form(maker="" if form.errors else form.maker, model="" if form.errors else form.model)
    read: dict[str, list[str]] = {}  # readings without fault, at which a second look may have been taken
    for name, lines in form.lines.items():
        for line in lines:
            if not line.empty:
                line.error = _wrong(book, alone, SECTIONS[name], line, read)
        read[name] = [line.notation for line in lines if not line.empty and not line.error]
    if not form.wrong:
        try:
            _evidence(form, {name: [line.notation for line in lines if not line.empty] for name, lines in form.lines.items()})
        except (KbError, ValidationError) as error:
            form.errors[""] = error if isinstance(error, KbError) else DataError("The evidence cannot be read.", "Write it as the examples show.")


def _wrong(book: Book, alone: Form, section: Section, line: Line, read: dict[str, list[str]]) -> KbError | None:
    if section.control == "measure" and not line.about:
        return DataError(f'It is not said what measures "{line.typed}".', "Choose what was measured.")
    try:
        section.kind.parse(line.notation)
        resolve(book, _evidence(alone, {**(read if section.kind is AGAIN else {}), section.name: [line.notation]}))
    except KbError as error:
        return error
    return None


@dataclass(frozen=True)
class Option:
    """One entry of a list to choose from."""

    value: str
    label: str


class Choices:
    """What the lists of the form offer, for the maker or model chosen."""

    def __init__(self, book: Book, form: Form) -> None:
        self.book = book
        model = book.models.get(form.model)
        self.maker = model.maker_id if model else form.maker if form.maker in book.makers else ""

    @cached_property
    def makers(self) -> list[Option]:
        """Every maker."""
        return [Option(maker.maker_id, maker.name) for maker in self.book.makers.values()]

    @cached_property
    def models(self) -> list[tuple[str, list[Option]]]:
        """The models by maker."""
        return [(m.name, [Option(x.model_id, x.name) for x in self.book.models.values() if x.maker_id == m.maker_id]) for m in self._makers]

    @cached_property
    def series(self) -> list[Option]:
        """The runs of numbers."""
        return [
            Option(s.series_id, f"{s.name}, {self._short(s.maker_id)}")
            for s in self.book.series.values()
            if s.maker_id in {m.maker_id for m in self._makers}
        ]

    @cached_property
    def too_many(self) -> bool:
        """More components than a list can hold: a maker must be chosen first, or ids be typed."""
        return len(self._spots) > MOST_OFFERED

    @cached_property
    def spots(self) -> list[tuple[str, list[Option]]]:
        """The component places by maker."""
        groups: dict[str, list[Option]] = {}
        for component, place in self._spots:
            groups.setdefault(self._short(component.maker_id), []).append(Option(_spot(component, place), _named(component, place)))
        return list(groups.items())

    @cached_property
    def components(self) -> list[tuple[str, list[Option]]]:
        """The components by maker, whatever their places."""
        groups: dict[str, list[Option]] = {}
        for component in dict.fromkeys(component.component_id for component, _ in self._spots):
            row = self.book.components[component]
            groups.setdefault(self._short(row.maker_id), []).append(Option(component, row.name))
        return list(groups.items())

    @cached_property
    def looks(self) -> list[tuple[str, list[Option]]]:
        """What can be seen, by the question that it answers."""
        groups = []
        for component, place, feature in self._features("choice"):
            values = dict.fromkeys(row.value for row in self.book.feature_values.get(feature.feature_id, {}).values() if row.value)
            options = [Option(f"{_spot(component, place)}.{feature.feature_id}={value}", value) for value in [*values, "other"]]
            groups.append((f"{_named(component, place)}: {feature.question}", options))
        return groups

    @cached_property
    def measures(self) -> list[Option]:
        """What can be measured."""
        return [
            Option(f"{_spot(c, place)}.{f.feature_id}", f"{_named(c, place)}: {f.question} ({f.unit or 'mm'})")
            for c, place, f in self._features("measure")
        ]

    def _features(self, kind: str) -> Iterator[tuple[ComponentRow, str, FeatureRow]]:
        for component, place in self._spots:
            for feature in self.book.features_of.get(component.component_id, ()):
                if (feature.kind == "measure") == (kind == "measure"):
                    yield component, place, feature

    @cached_property
    def _makers(self) -> list[MakerRow]:
        return [m for m in self.book.makers.values() if self.maker in ("", m.maker_id)]

    @cached_property
    def _spots(self) -> list[tuple[ComponentRow, str]]:
        return [(c, place) for c in self.book.components.values() if self.maker in ("", c.maker_id) for place in c.places]

    def _short(self, maker_id: str) -> str:
        """A maker's name up to its first comma: lists are narrow."""
        return str(self.book.makers[maker_id].name).split(",")[0]


def _spot(component: ComponentRow, place: str) -> str:
    return f"{component.component_id}@{place}" if place else str(component.component_id)


def _named(component: ComponentRow, place: str) -> str:
    return f"{component.name} ({place})" if place else str(component.name)
