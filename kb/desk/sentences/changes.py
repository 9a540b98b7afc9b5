"""What is said of changes between two knowledge bases."""

OTHER_ASSUMPTIONS = "The two were built under different assumptions."
OTHER_REASONS = " because of other change-overs of this component or other assumptions"
CAN_BE_BOUGHT = {"yes": "can be bought again", "no": "can no longer be bought", "unknown": "may or may not be bought"}


def recorded_now(name: str, place: str, because: str) -> str:
    """A change-over that is new."""
    return f"{name} is recorded now, {place}{because}."


def moved(name: str, before: str, after: str, because: str) -> str:
    """A change-over that moved."""
    return f"{name} moved from {before} to {after}{because}."


def narrowed(name: str, narrower: bool, before: str, after: str, because: str) -> str:
    """A change-over that is known better, or less well."""
    return f"{name} {'was narrowed' if narrower else 'became less certain'}, {after} instead of {before},{because}."


def no_longer_recorded(name: str, place: str) -> str:
    """A change-over that is gone."""
    return f"{name}, {place}, is no longer recorded."


def supersedes(new: str, old: str, both_ways: bool, condition: str) -> str:
    """A supersession that is new."""
    return f"Part {new} now supersedes {old}{', and the other way round' if both_ways else ''}{f' ({condition})' if condition else ''}."


def supersedes_no_longer(new: str, old: str) -> str:
    """A supersession that is gone."""
    return f"Part {new} no longer supersedes {old}."


def supersession_differs(old: str, new: str, differences: str) -> str:
    """A supersession that was corrected."""
    return f"Supersession of {old} by {new}: {differences}."


def part_listed(number: str, description: str, now: bool) -> str:
    """A part that came or went."""
    return f"Part {number} ({description}) is {'listed now' if now else 'no longer listed'}."


def part_available(number: str, description: str, available: str) -> str:
    """A part that can, or cannot, be bought any more."""
    return f"Part {number} ({description}) {CAN_BE_BOUGHT[available]}."


def fitment_gone(what: str, fitment: str) -> str:
    """A fitment that was withdrawn."""
    return f"{what}: {fitment} no longer says so."


def fitment_new(what: str, fitment: str, fits: bool) -> str:
    """A fitment that came."""
    return f"{what}: {fitment} says now that it {'fits' if fits else 'does not fit'}."


def fitment_differs(what: str, fitment: str, differences: str) -> str:
    """A fitment that was corrected."""
    return f"{what}: {fitment} now has {differences}."


def source_listed(title: str, now: bool) -> str:
    """A source that came or went."""
    return f'Source "{title}" is {"cited now" if now else "no longer listed"}.'


def more_corrected(table: str, count: int) -> str:
    """Rows that are only counted."""
    return f"{table}: {count} other rows corrected."
