"""What a person calls things: components, variants, models, change-overs, never by their ids."""

import re
from collections.abc import Sequence

from kb.desk.sentences.numbers import span
from kb.desk.sentences.sources import page_words
from kb.store.book import Book
from kb.words.dates import EVENTS

_QUOTED = re.compile(r'"([a-z0-9][a-z0-9-]*)(?:/([^"/]+))?"')  # an id, or a line as findings write it: series/line


def spot_name(book: Book, component_id: str, place: str) -> str:
    """A component place as a heading: "Cylinder cover (left)"."""
    name = str(book.components[component_id].name)
    return f"{name} ({place})" if place else name


def place_name(book: Book, component_id: str, place: str) -> str:
    """The component as one would say it: "the cylinder cover (left)"."""
    name = book.components[component_id].name.lower()
    return f"the {name} ({place})" if place else f"the {name}"


def of_maker(book: Book, component_id: str) -> str:
    """A component with its maker: "Pellwether, pump cover"."""
    component = book.components[component_id]
    return f"{book.makers[component.maker_id].name}, {component.name.lower()}"


def variant_name(book: Book, variant_id: str) -> str:
    """A variant's name; "" is one that is not recorded here."""
    return book.variants[variant_id].name if variant_id else "a casting not recorded here"


def match_name(book: Book, component_id: str, variants: Sequence[str]) -> str:
    """What a mark is found on."""
    if not component_id:
        return "foundry or inspection mark: tells no variant"
    return f"{book.components[component_id].name}: {' or '.join(variant_name(book, v) for v in variants)}"


def changeover_name(book: Book, component_id: str, old: str, new: str) -> str:
    """A change-over as one would say it."""
    return f"{book.components[component_id].name}: {variant_name(book, old)} to {variant_name(book, new)}"


def model_name(book: Book, maker_id: str, model_id: str) -> str:
    """A model as one would say it, with its maker where another maker has a model of that name."""
    maker = book.makers[maker_id].name
    if not model_id:
        return f"{maker}, model not recorded"
    name = book.models[model_id].name
    shared = sum(model.name == name for model in book.models.values()) > 1
    return f"{maker} {name}" if shared else str(name)


def block_span(book: Book, block_id: str) -> str:
    """The numbers of a block: "104101 to 106300"."""
    row = book.blocks[block_id]
    line = book.lines.by_id[row.line_id]
    start = line.starts[row.place]
    return span(line.serial(start), line.serial(start + line.blocks[row.place].count - 1))


def block_years(book: Book, block_id: str) -> str:
    """When a block was built, as recorded: "1928 to 1930"; "" where nobody says."""
    row = book.blocks[block_id]
    return span(row.built_from or "", row.built_to or "")


def unit_name(book: Book, maker_id: str, model_id: str, block_id: str) -> str:
    """A unit by its model and the block that its number is in: "Wren 30, no. 100001 to 101800 (built 1921 to 1923)"."""
    years, happened = block_years(book, block_id), EVENTS[book.blocks[block_id].dates_are or "built"]
    return f"{model_name(book, maker_id, model_id)}, no. {block_span(book, block_id)}{f' ({happened} {years})' if years else ''}"


class Names:
    """What a person calls the things of one knowledge base, by their ids. An id that is not in it stands for itself."""

    def __init__(self, book: Book) -> None:
        self.book = book

    def maker(self, maker_id: str) -> str:
        """A maker's name."""
        return str(self.book.makers[maker_id].name) if maker_id in self.book.makers else maker_id

    def short_maker(self, maker_id: str) -> str:
        """A maker's name up to its first comma."""
        return self.maker(maker_id).split(",")[0]

    def model(self, model_id: str) -> str:
        """A model's name; models of one name carry their maker's."""
        return model_name(self.book, self.book.models[model_id].maker_id, model_id) if model_id in self.book.models else model_id

    def series(self, series_id: str) -> str:
        """The name of a run of numbers."""
        return str(self.book.series[series_id].name) if series_id in self.book.series else series_id

    def block(self, block_id: str) -> str:
        """The numbers of a block."""
        return block_span(self.book, block_id) if block_id in self.book.blocks else block_id

    def component(self, component_id: str, place: str = "") -> str:
        """A component place."""
        return spot_name(self.book, component_id, place) if component_id in self.book.components else component_id

    def variant(self, variant_id: str) -> str:
        """A variant's name."""
        return variant_name(self.book, variant_id) if not variant_id or variant_id in self.book.variants else variant_id

    def source(self, source_id: str) -> str:
        """A source's title."""
        return str(self.book.sources[source_id].title) if source_id in self.book.sources else source_id

    def reference(self, source_id: str, page: str = "", grade: str = "") -> str:
        """Where a statement stands: title, page, grade; "" if nothing is cited."""
        return ", ".join(filter(None, [self.source(source_id), page_words(page), f"grade {grade}" if grade else ""])) if source_id else ""

    def subject(self, subject: str) -> str:
        """What a dispute is about: a change-over, a component, a series, or whatever its id names."""
        from kb.store.changeovers import changeover

        row = changeover(self.book, subject)
        if row is not None:
            return changeover_name(self.book, row.component_id, row.old_variant_id or "", row.new_variant_id)
        return self.component(subject) if subject in self.book.components else self.series(subject)

    def spoken(self, text: str, of: str = "") -> str:
        """A text with the ids that stand in it in quotation marks, as findings have them, said by their names. of: what it begins with, and what was
        said before."""
        said = _QUOTED.sub(self._quoted, text)
        _, _, change = of.partition(": ")
        said = said.removeprefix(f"{change}: ") if change else said
        return f"{said[:1].upper()}{said[1:]}" if said.startswith("contradicts ") else said

    def _quoted(self, found: re.Match[str]) -> str:
        name = self._named(found[1])
        return found[0] if not name else f"{name}, {found[2]}" if found[2] else name

    def _named(self, key: str) -> str:
        book = self.book
        for rows in (book.variants, book.components, book.models, book.series, book.makers):
            if key in rows:
                return str(rows[key].name)
        if key in book.blocks:
            return f"the block {block_span(book, key)}"
        return f'"{book.sources[key].title}"' if key in book.sources else ""
