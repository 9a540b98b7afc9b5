"""What a person calls things: components, variants, models, change-overs, never by their ids."""

from collections.abc import Sequence

from kb.store.book import Book


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
