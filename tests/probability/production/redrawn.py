"""Datasets drawn again and again with a change-over whose first new unit is known: what sources would say of it, and what people would see.

Everything follows docs/model.md, section 5, unless a test asks for something else: b flat on 0..n; claims right as often as their grade says,
else half near the truth and half anywhere; half of the sightings near the first claim, the others anywhere.
"""

import random
from math import exp

from kb.assumptions import Assumptions
from kb.words.dataset import Dataset
from tests.probability.production.rows import Given, dataset

UNITS = 3000
SIGHTINGS = 40
NEAR = 80  # sightings are looked for so close to where a source says the change was
SOURCES = [{"source_id": f"source-{grade.lower()}", "grade": grade} for grade in "ABCD"]


class Redrawn:
    """One dataset. `first_new`: order of the first new unit, 0..UNITS; `width`: length of the mixed stretch."""

    def __init__(
        self, seed: int, assumptions: Assumptions, *, width: int | None = None, stated: bool = False, claims: int = 1, wrong: int = 0
    ) -> None:
        """Draw it.

        Args:
            seed: of everything.
            assumptions: of the model.
            width: of the mixed stretch; None: drawn from the prior.
            stated: the first source also says how long both were fitted.
            claims: how many sources say from which serial on.
            wrong: so many of them are wrong for certain, somewhere else altogether.
        """
        self.random, self.assumptions = random.Random(seed), assumptions
        widths = dict(assumptions.mixed_width)
        self.width = self.random.choices(list(widths), list(widths.values()))[0] if width is None else width
        self.first_new = self.random.randint(0, UNITS)
        grades = self.random.sample("ABCD", claims)
        rows = [self._claim(grade, number < wrong) for number, grade in enumerate(grades)]
        if stated and rows[0]["first_new"] + self.width - 1 <= UNITS:
            rows[0]["last_old"] = rows[0]["first_new"] + self.width - 1
        near = rows[0]["first_new"] - 1
        orders = {self._order(near) for _ in range(SIGHTINGS)}
        self.dataset: Dataset = dataset(
            makers=[{}], series=[{"series_id": "s"}], sources=SOURCES, blocks=[{"first": 1, "last": UNITS, "source_id": "source-a"}],
            components=[{"component_id": "head"}], variants=[{"variant_id": "old"}, {"variant_id": "new"}],
            breakpoints=rows, sightings=[self._sighting(order) for order in sorted(orders)],
        )  # fmt: skip

    def _claim(self, grade: str, wrong: bool) -> Given:
        right = not wrong and self.random.random() < self.assumptions.grade_reliability[grade]
        while True:
            order = self.first_new
            if not right:
                order = self._slip() if not wrong and self.random.random() < 0.5 else self.random.randint(0, UNITS)
            if right and order == UNITS:  # "not yet changed" has no serial: the source says nothing of use
                return {**self._link(grade), "first_new": UNITS, "about": "yes"}
            if 0 <= order < UNITS:
                return {**self._link(grade), "first_new": order + 1}

    def _link(self, grade: str) -> Given:
        return {"source_id": f"source-{grade.lower()}", "old_variant_id": "old", "new_variant_id": "new"}

    def _slip(self) -> int:
        spread = max(self.assumptions.claim_spread_least, UNITS * self.assumptions.claim_spread_share)
        steps = [self._geometric(1 - exp(-1 / spread)) for _ in range(2)]
        return self.first_new + steps[0] - steps[1]

    def _geometric(self, stop: float) -> int:
        count = 0
        while self.random.random() > stop:
            count += 1
        return count

    def _order(self, near: int) -> int:
        order = near + self.random.randint(-NEAR, NEAR) if self.random.random() < 0.5 else self.random.randrange(UNITS)
        return min(max(order, 0), UNITS - 1)

    def _sighting(self, order: int) -> Given:
        believed = self.random.random() < 0.5
        rate = self.assumptions.replaced_when_believed_original if believed else self.assumptions.replaced_when_unknown
        built = min(max((order - self.first_new + 1) / (self.width + 1), 0.0), 1.0)
        new = self.random.random() < (0.5 if self.random.random() < rate else built)
        return {"serial": order + 1, "variant_id": "new" if new else "old", "original": "believed" if believed else "unknown"}
