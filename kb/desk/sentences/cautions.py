"""What to take care of; said wherever something safety-critical is named."""

from kb.store.book import Row


def safety(names: list[str]) -> str:
    """The caution for safety-critical components."""
    return (
        f"Safety-critical: {', '.join(names)}. A number that matches says nothing about cracks, wear or earlier repairs. "
        "Have the part examined by a qualified person and follow local codes before the machine runs."
    )


def component_caution(component: Row) -> str:
    """The caution that goes with a verdict about a safety-critical component."""
    return safety([component.name])
