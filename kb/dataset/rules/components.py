"""A variant, feature or place must belong to the component that the row is about; shares must add up."""

from collections import defaultdict
from collections.abc import Iterator

from kb.dataset.rules.problem import RowProblem
from kb.words.dataset import Dataset

# table, its column with the component, columns with variants of that component
_VARIANTS = (
    ("options", ("variant_id",)),
    ("breakpoints", ("old_variant_id", "new_variant_id")),
    ("sightings", ("variant_id",)),
    ("fitments", ("variant_id",)),
    ("fitment_conditions", ("variant_id",)),
    ("steps", ("variant_id",)),
    ("outcomes", ("variant_id",)),
)
_PLACES = ("sightings", "fitments", "fitment_conditions")


def check(dataset: Dataset) -> Iterator[RowProblem]:
    """All problems with what belongs to a component."""
    of_variant = {row.variant_id: row.component_id for row in dataset.variants}
    yield from _variants(dataset, of_variant)
    yield from _features(dataset, of_variant)
    yield from _places(dataset)
    yield from _same_function(dataset, of_variant)
    yield from _shares(dataset)
    yield from _makers(dataset)
    yield from _own_numbers(dataset)


def _makers(dataset: Dataset) -> Iterator[RowProblem]:
    """The conditions of a fitment are about castings of one machine, so of one maker."""
    if not dataset.fitment_conditions:
        return
    makers = {row.component_id: row.maker_id for row in dataset.components}
    fitted = {row.fitment_id: row.component_id for row in dataset.fitments}
    for index, row in enumerate(dataset.fitment_conditions):
        ours, theirs = makers.get(fitted.get(row.fitment_id, "")), makers.get(row.component_id)
        if ours is not None and theirs is not None and ours != theirs:
            problem = f'"{row.component_id}" is a component of "{theirs}", but the fitment is for one of "{ours}".'
            yield RowProblem("fitment_conditions", index, "component_id", problem, f'Name a component of "{ours}".')


def _own_numbers(dataset: Dataset) -> Iterator[RowProblem]:
    """One component of an assembly may carry its own number; everything that changes with that number is looked up by it."""
    assemblies = {row.component_id: (row.maker_id, row.assembly) for row in dataset.components}
    numbered: dict[tuple[str, str], str] = {}
    for index, row in enumerate(dataset.series):
        assembly = assemblies.get(row.component_id or "")
        if assembly is not None and row.component_id and numbered.setdefault(assembly, row.component_id) != row.component_id:
            problem = f'"{numbered[assembly]}" of the assembly "{assembly[1]}" has a number of its own already.'
            yield RowProblem("series", index, "component_id", problem, "Put one of the two components into an assembly of its own.")


def _variants(dataset: Dataset, of_variant: dict[str, str]) -> Iterator[RowProblem]:
    for table, names in _VARIANTS:
        for index, row in enumerate(getattr(dataset, table)):
            component = row.component_id
            for name in names:
                owner = of_variant.get(getattr(row, name) or "")
                if owner is not None and component is not None and owner != component:
                    problem = f'"{getattr(row, name)}" is a variant of "{owner}", not of "{component}".'
                    yield RowProblem(table, index, name, problem, f'Name a variant of "{component}", or correct component_id.')


def _features(dataset: Dataset, of_variant: dict[str, str]) -> Iterator[RowProblem]:
    features = {row.feature_id: row for row in dataset.features}
    values: dict[str, set[str]] = defaultdict(set)
    for each in dataset.feature_values:
        if each.value is not None:
            values[each.feature_id].add(each.value)
    for index, row in enumerate(dataset.feature_values):
        feature = features.get(row.feature_id)
        if feature is None:
            continue
        owner = of_variant.get(row.variant_id)
        if owner is not None and owner != feature.component_id:
            problem = f'"{row.feature_id}" is a feature of "{feature.component_id}", but "{row.variant_id}" is a variant of "{owner}".'
            yield RowProblem("feature_values", index, "feature_id", problem, f'Name a feature of "{owner}", or another variant.')
        yield from _kind("feature_values", index, feature.kind, row.value)
    for index, condition in enumerate(dataset.fitment_conditions):
        feature = features.get(condition.feature_id or "")
        if feature is None:
            continue
        if feature.component_id != condition.component_id:
            problem = f'"{feature.feature_id}" is a feature of "{feature.component_id}", not of "{condition.component_id}".'
            yield RowProblem(
                "fitment_conditions", index, "feature_id", problem, f'Name a feature of "{condition.component_id}", or correct component_id.'
            )
        yield from _kind("fitment_conditions", index, feature.kind, condition.value)
        known = values[feature.feature_id]
        if feature.kind == "choice" and condition.value is not None and condition.value not in known:
            problem = f'No variant has the value "{condition.value}" of "{feature.feature_id}", so the condition can never hold.'
            remedy = f"Write one of: {', '.join(sorted(known))}." if known else "Add the values of this feature to feature_values.csv."
            yield RowProblem("fitment_conditions", index, "value", problem, remedy)


def _kind(table: str, index: int, kind: str, value: str | None) -> Iterator[RowProblem]:
    if kind == "choice" and value is None:
        yield RowProblem(table, index, "value", "The feature is a choice, but no value is given.", "Write the value, and leave low and high empty.")
    elif kind == "measure" and value is not None:
        yield RowProblem(
            table, index, "value", "The feature is a measure, but a value in words is given.", "Write low and high, and leave value empty."
        )


def _places(dataset: Dataset) -> Iterator[RowProblem]:
    places = {row.component_id: row.places for row in dataset.components}
    for table in _PLACES:
        for index, row in enumerate(getattr(dataset, table)):
            known = places.get(row.component_id)
            if row.place is not None and known is not None and row.place not in known:
                problem = f'"{row.place}" is no place of "{row.component_id}".'
                remedy = (
                    f"Write one of: {', '.join(known)}."
                    if known
                    else "Leave place empty: the component is there once. Or add its places to components.csv."
                )
                yield RowProblem(table, index, "place", problem, remedy)


def _same_function(dataset: Dataset, of_variant: dict[str, str]) -> Iterator[RowProblem]:
    for index, row in enumerate(dataset.variants):
        other = row.same_function_as
        if other == row.variant_id:
            yield RowProblem(
                "variants", index, "same_function_as", "The variant is compared with itself.", "Name the other variant, or leave it empty."
            )
        elif other is not None and of_variant.get(other, row.component_id) != row.component_id:
            problem = f'"{other}" is a variant of "{of_variant[other]}", not of "{row.component_id}".'
            yield RowProblem("variants", index, "same_function_as", problem, f'Name a variant of "{row.component_id}".')


def _shares(dataset: Dataset) -> Iterator[RowProblem]:
    """Shares of one component that add up to more than all units, and replacements that are never any variant."""
    total: dict[tuple[str | None, ...], float] = defaultdict(float)
    for index, row in enumerate(dataset.options):
        total[group := (row.component_id, row.model_id, row.series_id, row.serial_from, row.serial_to)] += row.share
        if total[group] > 1 + 1e-9:  # numeric
            problem = f'The shares of "{row.component_id}" under these conditions add up to {total[group]:g}.'
            yield RowProblem("options", index, "share", problem, "Correct the shares so that they add up to 1 at most.")
    weights: dict[str, float] = defaultdict(float)
    last: dict[str, int] = {}
    for index, variant in enumerate(dataset.variants):
        weights[variant.component_id] += 1.0 if variant.service_share is None else variant.service_share
        last[variant.component_id] = index
    for component, weight in weights.items():
        if weight == 0:
            problem = f'Every variant of "{component}" has the service share 0, so nothing could replace one.'
            yield RowProblem("variants", last[component], "service_share", problem, "Leave it empty where a variant was supplied as a replacement.")
