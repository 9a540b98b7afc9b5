"""Every number that this project assumes rather than knows, each with its reason.

A build writes the assumptions it used into `build_info`, and every answer carries those that differ from the
defaults. docs/model.md says where each one is used. Values marked "common practice" have no published source.
"""

from collections.abc import Mapping
from dataclasses import dataclass, field, fields
from types import MappingProxyType
from typing import Any

from kb.words.errors import DataError


def _table(**rows: float) -> Any:
    return field(default_factory=lambda: MappingProxyType(dict(rows)))


@dataclass(frozen=True)
class Assumptions:
    """The constants of docs/model.md. Probabilities are 0..1.

    >>> Assumptions().replaced_rate
    0.03
    >>> Assumptions().override(replaced_rate=0.1).changed()
    {'replaced_rate': 0.1}
    """

    # Readings (section 1): how often a character that looks plain is really another, averaged over all. Which other: kb/probability/channel/wear.txt.
    misread: Mapping[str, float] = _table(**{"clean": 0.002, "worn": 0.12, "badly-worn": 0.25})
    uniform_share: float = 0.3  # share of misreadings that the strokes cannot foresee: any other character, equally likely
    # What a worn stamping loses or gains unnoticed; no published source. Readings of clean numbers, and those with `*`, are taken to be complete.
    lost: Mapping[str, float] = _table(**{"clean": 0.0, "worn": 0.004, "badly-worn": 0.008})  # one character between others, each
    doubled: Mapping[str, float] = _table(**{"clean": 0.0, "worn": 0.002, "badly-worn": 0.004})  # one character taken for two, each
    end_lost: Mapping[str, float] = _table(**{"clean": 0.0, "worn": 0.01, "badly-worn": 0.03})  # the first or the last one ...
    end_lost_more: float = 0.3  # ... and each further one with it
    # Exponent on the entries of worn readings, fitted to readings.csv. It is cautious, because real wear differs from the table: of .65, .70, .75 ...
    # it suits four other kinds of wear best when they are taken together (docs/wear.md).
    sharpness: float = 0.75
    confirmed: Mapping[str, float] = field(default_factory=lambda: MappingProxyType({}))  # "worn 8>3": how often readings.csv showed it
    sharpness_spread: float = 0.15  # standard deviation of the prior on the exponent, before any reading is confirmed
    table_weight: float = 50.0  # how many confirmed characters a row of the shipped table is worth
    upside_down: float = 0.01  # a number struck or read upside down; common practice of the trade
    reading_correlation: float = 0.5  # two readings of one worn number share the wear, so they are not two independent witnesses

    # Serials (section 2).
    affix_share: float = 0.1  # share of units that carry one of the recorded letters with a meaning

    # Not in this knowledge base (section 3).
    not_in_knowledge_base: float = 0.05  # prior; one inquiry in twenty is about something nobody recorded
    bigram_share: float = 0.5
    bigram_smoothing: float = 0.5

    # What is seen at one place (section 4).
    another_mark: float = 0.01  # a marked casting of a known variant bears a mark that nobody recorded: lists are seldom complete
    foundry_share: float = 0.05  # how often a number read off a casting is a foundry or inspection mark
    none_where_unmarked: float = 0.9  # "looked, no mark" where none is recorded ...
    none_where_marked: float = 0.1  # ... and where one is: ground off, painted over
    none_where_unrecorded: float = 0.5  # ... and on a casting or a unit that this knowledge base does not know
    feature_error: float = 0.02
    measure_where_unrecorded: float = 0.5  # likelihood of a measure on a casting whose limits nobody recorded

    # Change-overs (section 5).
    grade_reliability: Mapping[str, float] = _table(A=0.99, B=0.95, C=0.85, D=0.60)
    mixed_width: Mapping[int, float] = field(
        default_factory=lambda: MappingProxyType({0: 0.7, 10: 0.1, 50: 0.1, 200: 0.09, 800: 0.01})
    )
    claimed_width_weight: float = 0.7  # a width that a source states is added to the prior with this weight
    claim_spread_least: float = 2.0  # a wrong serial is wrong by a few numbers (a slip) ...
    claim_spread_share: float = 0.005  # ... or by about half a per cent of the units concerned
    interval_mass: float = 0.90
    supported_at: float = 0.5
    contradicted_at: float = 0.05
    odd_at: float = 0.5  # a casting in a sighting or on a unit is called replaced if it is more probably so than not
    side_by_side_at: float = 0.5  # old and new are said to have been fitted side by side if that is more probable than a clean change
    replaced_when_believed_original: float = 0.02
    replaced_when_unknown: float = 0.15  # old machines at shows: about one casting in seven is not the original

    # Fitted (section 7).
    replaced_rate: float = 0.03  # low enough for a clear serial alone to carry a verdict
    unrecorded_variant: float = 0.005
    swapped_assembly: float = 0.01
    own_number_lead_years: int = 1  # an engine waits at most this long for its machine

    # Casting dates (section 13): longest wait in days of a band -> share of the castings that wait that long; common practice.
    casting_lead: Mapping[int, float] = field(
        default_factory=lambda: MappingProxyType({30: 0.40, 92: 0.30, 183: 0.18, 366: 0.10, 1830: 0.02})
    )
    service_years: int = 20  # castings for repairs were made for this long after the last unit
    cast_date_misread: float = 0.02
    build_unsteady: float = 0.15  # a block's output ran ahead or behind by at most this share of its time: seasons, holidays; common practice
    build_part_days: int = 30  # the time within a block is resolved to months, no finer

    # Cells (section 8).
    cell_tolerance: float = 0.01

    # Verdicts (section 9).
    verdict_at: float = 0.95
    verdict_at_safety: float = 0.99
    not_recorded_at: float = 0.5
    sheet_sure_at: float = 0.85  # the work sheet of a less probable unit says so before anything else: a step for another unit costs a day
    maker_asked: float = 0.05  # makers with at least this probability are judged beside the most probable one: one call in twenty

    # Thresholds from which an answer mentions something; they change no probability. No published source: set so that a club's archivist hears of
    # every oddity worth hearing of, and of little else.
    serials_tail: float = 0.005  # share of a block's probability that may lie beyond either end of the serials called still possible: 1 in 100 in all
    whole_serial_at: float = 0.1  # a complete serial weighs at least this on its block; a misread one weighs far less
    built_with_at: float = 0.01  # a variant less probable than this is not named as fitted between two serials
    present_at: float = 0.05  # beside a casting date, or the castings, variants and units less probable than this count as absent
    disagree_at: float = 0.5  # the serial alone and the castings alone must each be this clear before they are said to point to different units ...
    disagree_shared: float = 0.02  # ... and no more than this of what the castings say may fall on the units that the serial allows
    date_meaning_at: float = 0.1  # other meanings of a date code that are given beside the likeliest
    longest_lead_days: int = 366  # a casting waits days to months for its machine; one that waited longer is asked about. Common practice
    feature_settles_at: float = 0.95  # a look that makes a variant this probable is a sighting of it; the archivist does not take guesses
    clear_at: float = 0.8  # an answer from the customer that leaves the verdict less probable than this leaves it open
    run_share: float = 0.25  # numbers form a run if at least this share between the first and the last of them is recorded ...
    run_suits_as_well: float = 0.5  # ... and an unrecorded number in it is named if it weighs this much relative to the best recorded one
    slip_at: float = 0.05  # a known number less probable than this share of the best is not what was meant
    measure_tolerance: float = 0.2  # mm by which parts may differ from the measures asked for: what a rule, or a worn part in hand, can tell
    cleaning_minutes: float = 5.0  # wire brush, torch and chalk: 1 is a look, 5 to clean or measure, 60 to dismantle

    # What a wrong sale and a lost sale cost, if that is given (section 9): they move the verdicts.
    return_cost: float | None = None  # a part that comes back: freight both ways, the hour it takes, the customer's patience
    sale_value: float | None = None  # what a sale brings; it is lost by saying no
    asking_share: float = 0.05  # asking the customer first costs this share of the sale's value, because some never answer
    verdict_least: float = 0.80  # nothing below this is called "fits", however cheap a return is

    # Part numbers as people write them: how often each slip is made. There are no published counts for part numbers; common practice.
    slip_share: Mapping[str, float] = _table(
        **{"look-alike": 0.2, "swapped": 0.15, "wrong": 0.25, "missing": 0.12, "added": 0.08, "suffix": 0.15, "several": 0.05}
    )

    def override(self, **values: Any) -> "Assumptions":
        """The same assumptions with some replaced.

        Raises:
            DataError: there is no assumption of that name.
        """
        known = {each.name for each in fields(self)}
        for name in values:
            if name not in known:
                raise DataError(f'"{name}" is not an assumption.', f"Use one of: {', '.join(sorted(known))}.")
        return Assumptions(**{**{name: getattr(self, name) for name in known}, **values})

    def changed(self) -> dict[str, Any]:
        """Those that differ from the defaults. What was learned from confirmed readings is data, not an assumption."""
        usual = Assumptions()
        names = [f.name for f in fields(self) if f.name != "confirmed"]
        return {name: getattr(self, name) for name in names if getattr(self, name) != getattr(usual, name)}

    def as_dict(self) -> dict[str, Any]:
        """All of them as plain values, as `build_info` stores them."""
        return {f.name: dict(v) if isinstance(v := getattr(self, f.name), Mapping) else v for f in fields(self)}
