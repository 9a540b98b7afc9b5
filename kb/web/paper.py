"""From an answer to a page: the templates, and what they may call. Every value from the data is escaped (Jinja's autoescape)."""

from pathlib import Path
from typing import Any

from jinja2 import Environment, FileSystemLoader, StrictUndefined
from markupsafe import Markup

from kb.desk.sentences import numbers as plain
from kb.desk.sentences.names import changeover_name, model_name, spot_name, variant_name
from kb.desk.sentences.numbers import chance
from kb.desk.sentences.sources import page_words
from kb.store.book import Book
from kb.web import address, figures
from kb.web.site import Site
from kb.words.evidence import WRITTEN

TEMPLATES = Path(__file__).parent / "templates"


class Names:
    """What a person calls the things of one knowledge base, and where each has its page."""

    def __init__(self, book: Book, site: Site) -> None:
        self.book, self.site = book, site

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

    def component(self, component_id: str, place: str = "") -> str:
        """A component place."""
        return spot_name(self.book, component_id, place) if component_id in self.book.components else component_id

    def variant(self, variant_id: str) -> str:
        """A variant's name."""
        return variant_name(self.book, variant_id) if not variant_id or variant_id in self.book.variants else variant_id

    def source(self, source_id: str) -> str:
        """A source's title."""
        return str(self.book.sources[source_id].title) if source_id in self.book.sources else source_id

    def subject(self, subject: str) -> str:
        """What a dispute is about: a change-over, a component, a series, or whatever its id names."""
        row = self.book.one("select component_id, old_variant_id, new_variant_id from changeovers where changeover_id = ?", subject)
        if row is not None:
            return changeover_name(self.book, row.component_id, row.old_variant_id or "", row.new_variant_id)
        return self.component(subject) if subject in self.book.components else self.series(subject)

    def cited(self, source_id: str, page: str = "") -> Markup:
        """A reference that leads to its source; "" if nothing is cited."""
        if not source_id:
            return Markup("")
        where = f", {page_words(page)}" if page else ""
        return Markup('<a class="cited" href="{}">{}</a>{}').format(self.row("sources", source_id), self.source(source_id), where)

    def row(self, table: str, key: str) -> str:
        """The address of a row among the tables."""
        return self.site.url(f"/{address.step(self.site.database)}/{table}/{address.step(key)}")

    def table(self, table: str, **filters: str) -> str:
        """The address of a table, filtered."""
        return self.site.url(address.address(f"/{address.step(self.site.database)}/{table}", filters.items()))


def make_environment(book: Book, site: Site) -> Environment:
    """The templates for one thread."""
    environment = Environment(
        loader=FileSystemLoader(TEMPLATES), autoescape=True, undefined=StrictUndefined, trim_blocks=True, lstrip_blocks=True, enable_async=False
    )
    environment.globals.update(
        names=Names(book, site),
        site=site,
        url=site.url,
        static=site.static,
        address=address.address,
        part_path=address.part_path,
        step=address.step,
        figures=figures,
        words=plain,
        labels={kind.name: kind.label for kind in WRITTEN},
        book=book,
    )
    environment.filters.update(chance=chance, figure=plain.figure, minutes=plain.minutes)
    return environment


def render(environment: Environment, template: str, **values: Any) -> str:
    """One page."""
    return environment.get_template(template).render(**values)
