"""What to take care of; said wherever something safety-critical is named."""




from kb.store.rows import ComponentRow


def safety(names: list[str]) -> str:
    """The caution for safety-critical components."""
    return (
        f"Safety-critical: {', '.join(names)}. A number that matches says nothing about cracks, wear or earlier repairs. "
        "Have the part examined by a qualified person and follow local codes before the machine runs."
    )


def component_caution(component: ComponentRow) -> str:
    """The caution that goes with a verdict about a safety-critical component."""
    return safety([component.name])


CLOSING = (
    "Local codes, the maker's own instructions and the advice of licensed people come before this sheet. "
    "A number that matches says nothing about cracks, wear or earlier repairs."
)


def critical(names: list[str]) -> str:
    """What stands on a sheet about the components that lives depend on; "" if there are none."""
    if not names:
        return ""
    return (
        f"Lives depend on: {', '.join(names)}. Have a qualified person examine each of these before the machine runs. Where this sheet and the "
        "part in front of you differ, stop and ask."
    )
