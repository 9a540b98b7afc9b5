"""Rewrites mills-and-pumps/sightings.csv: what club members saw on invented machines, drawn from a stated truth.

    python demo_data/make_sightings.py

The truth of every change-over stands in TRUTH below: the first serial with the new variant, and how many units the old stock
lasted. Units are drawn near the change-overs and all over the production; some of their castings have been swapped since, three
units carry another unit's engine, some observers wrote down the mark instead of the variant, some could not read the whole serial.
The rows in TOLD are not drawn: the three stories of mills-and-pumps/README.md rest on them. Same seed, same bytes.
"""

import csv
import random
from collections.abc import Sequence
from datetime import date, timedelta
from pathlib import Path
from typing import NamedTuple, TypeVar

FOLDER = Path(__file__).parent / "mills-and-pumps"
SEED = 1926
ROWS = 300
SWAPPED_SINCE = 0.05  # share of castings that are no longer the first
NEAR = 90  # "near a change-over": at most so many units away
COLUMNS = (
    "sighting_id", "series_id", "serial", "component_id", "place", "variant_id", "mark_read", "original", "casting_date",
    "seen_on", "observer", "evidence", "source_id", "retracted", "note",
)  # fmt: skip


class New(NamedTuple):
    """From `first` on `variant` was fitted; the old one was used up over the next `mixed` units."""

    variant: str
    first: str
    mixed: int = 0


# The truth, by series, line, component and model ("" = all that have no row of their own).
TRUTH: dict[tuple[str, str, str, str], tuple[New, ...]] = {
    ("ov-mill-no", "", "mill-frame", ""): (New("frame-wood", "100001"), New("frame-iron", "101801")),
    ("ov-mill-no", "", "arbor-housing", ""): (New("housing-plain", "100001"), New("housing-seal35", "102401"), New("housing-seal38", "105117")),
    ("ov-mill-no", "", "saw-flange", ""): (New("flange-4pin", "100001"), New("flange-6pin", "108651")),
    ("ov-mill-no", "", "brake-band", ""): (New("band-lined", "100001"), New("band-woven", "106051")),
    ("ov-mill-no", "", "feed-cam", ""): (New("cam-two-lobe", "100001"), New("cam-three-lobe", "107350")),
    ("ov-mill-no", "", "block-dog", ""): (New("dog-five", "100001"), New("dog-seven", "103511", 50)),
    ("ov-mill-no", "", "drive-pulley", ""): (New("pulley-flat", "100001"), New("pulley-vee", "106931")),
    ("ov-mill-no", "", "carriage", "wren-30"): (New("carriage-30", "100001"),),
    ("ov-mill-no", "", "carriage", "rook-36"): (New("carriage-36", "104101"), New("carriage-36b", "107214")),
    ("ov-mill-no", "", "carriage", "rook-twin"): (New("carriage-twin", "109501"),),
    ("pw-engine-no", "", "crankcase", ""): (
        New("crankcase-n", "N00001"), New("crankcase-p", "P00001"), New("crankcase-p-lug", "P03121"), New("crankcase-u", "U00001"),
    ),
    ("pw-engine-no", "", "cylinder-head", ""): (New("head-4stud", "N00001"), New("head-6stud", "P01850"), New("head-6stud-b", "P05200")),
    ("pw-unit-no", "lindenrood", "flywheel-hub", ""): (New("hub-keyed", "A0001"), New("hub-taper", "B1210")),
    ("pw-unit-no", "lindenrood", "bearing-cap", ""): (New("cap-plain", "A0001"), New("cap-ring", "C0881")),
    ("pw-unit-no", "lindenrood", "governor", ""): (New("governor-latch", "A0001"), New("governor-throttle", "D0001")),
    ("pw-unit-no", "lindenrood", "pump-body", ""): (New("body-small", "A0001"), New("body-round", "C1510"), New("body-square", "D0900")),
    ("pw-unit-no", "lindenrood", "pump-cover", ""): (New("cover-flat", "A0001"), New("cover-dished", "B1821", 60), New("cover-dished-b", "D1201")),
    ("pw-unit-no", "lindenrood", "valve-chest", ""): (New("chest-two", "A0001"), New("chest-four", "D1022")),
    ("pw-unit-no", "lindenrood", "gear-case", ""): (New("gear-case-3", "A0001"), New("gear-case-5", "C0001")),
    ("pw-unit-no", "lindenrood", "gear-case", "quince-7"): (New("gear-case-7", "D0001"),),
    ("pw-unit-no", "lindenrood", "gear-case", "medlar-8"): (New("gear-case-8", "E0001"),),
    ("pw-unit-no", "lindenrood", "clutch-drum", ""): (New("drum-narrow", "A0001"), New("drum-wide", "D0401")),
    ("pw-unit-no", "lindenrood", "base-frame", ""): (New("base-skid", "A0001"), New("base-truck", "E0001")),
    ("pw-unit-no", "saint-orrin", "flywheel-hub", ""): (New("hub-keyed", "R0001"), New("hub-taper", "R0640")),
    ("pw-unit-no", "saint-orrin", "bearing-cap", ""): (New("cap-plain", "R0001"), New("cap-ring", "S0655")),
    ("pw-unit-no", "saint-orrin", "governor", ""): (New("governor-latch", "R0001"), New("governor-throttle", "T0001")),
    ("pw-unit-no", "saint-orrin", "pump-body", ""): (New("body-small", "R0001"), New("body-round", "S0950"), New("body-square", "T0688")),
    ("pw-unit-no", "saint-orrin", "pump-cover", ""): (New("cover-flat", "R0001"), New("cover-dished", "R1322"), New("cover-dished-b", "T0412")),
    ("pw-unit-no", "saint-orrin", "valve-chest", ""): (New("chest-two", "R0001"), New("chest-four", "T0431")),
    ("pw-unit-no", "saint-orrin", "gear-case", ""): (New("gear-case-3", "R0001"), New("gear-case-5", "S0001")),
    ("pw-unit-no", "saint-orrin", "clutch-drum", ""): (New("drum-narrow", "R0001"), New("drum-wide", "T0001")),
    ("pw-unit-no", "saint-orrin", "base-frame", ""): (New("base-bolted", "R0001"),),
}  # fmt: skip

# Not drawn: (series, serial, component, place, variant, original, seen on, note).
TOLD: tuple[tuple[str, str, str, str, str, str, str, str], ...] = (
    # The seller: last narrow and first wide recess that anybody has seen.
    ("ov-mill-no", "105038", "arbor-housing", "left", "housing-seal35", "believed", "1984", ""),
    ("ov-mill-no", "105038", "arbor-housing", "right", "housing-seal35", "believed", "1984", ""),
    ("ov-mill-no", "105061", "arbor-housing", "right", "housing-seal35", "believed", "1992", ""),
    ("ov-mill-no", "105171", "arbor-housing", "left", "housing-seal38", "believed", "1990", ""),
    ("ov-mill-no", "105188", "arbor-housing", "left", "housing-seal38", "believed", "2003", ""),
    ("ov-mill-no", "105188", "arbor-housing", "right", "housing-seal38", "believed", "2003", ""),
    # The archivist: two-lobe cams after the bulletin's number, three-lobe cams just after the register's, and one swapped casting.
    ("ov-mill-no", "107214", "feed-cam", "", "cam-two-lobe", "believed", "1979", ""),
    ("ov-mill-no", "107263", "feed-cam", "", "cam-two-lobe", "believed", "1987", ""),
    ("ov-mill-no", "107301", "feed-cam", "", "cam-two-lobe", "unknown", "1996", ""),
    ("ov-mill-no", "107338", "feed-cam", "", "cam-two-lobe", "believed", "2001", ""),
    ("ov-mill-no", "107352", "feed-cam", "", "cam-three-lobe", "believed", "1999", ""),
    ("ov-mill-no", "107377", "feed-cam", "", "cam-three-lobe", "unknown", "2007", ""),
    ("ov-mill-no", "107410", "feed-cam", "", "cam-three-lobe", "believed", "2012", ""),
    ("ov-mill-no", "106420", "feed-cam", "", "cam-three-lobe", "unknown", "1989", "Put together from three mills, says the next owner."),
    # Both sides of breakpoints on which everybody agrees.
    ("ov-mill-no", "106047", "brake-band", "", "band-lined", "believed", "1991", ""),
    ("ov-mill-no", "106053", "brake-band", "", "band-woven", "believed", "1995", ""),
    ("ov-mill-no", "106058", "brake-band", "", "band-woven", "believed", "2005", ""),
    ("ov-mill-no", "106072", "brake-band", "", "band-woven", "believed", "2010", ""),
    ("ov-mill-no", "108648", "saw-flange", "", "flange-4pin", "believed", "1986", ""),
    ("ov-mill-no", "108652", "saw-flange", "", "flange-6pin", "believed", "1998", ""),
    ("ov-mill-no", "108657", "saw-flange", "", "flange-6pin", "believed", "2002", ""),
    ("ov-mill-no", "108670", "saw-flange", "", "flange-6pin", "believed", "2009", ""),
    # The mixed stretch: old dogs were used up from 103511 to 103560.
    ("ov-mill-no", "103522", "block-dog", "left", "dog-five", "believed", "1983", ""),
    ("ov-mill-no", "103536", "block-dog", "left", "dog-seven", "believed", "1991", ""),
    ("ov-mill-no", "103551", "block-dog", "right", "dog-five", "believed", "2004", ""),
    ("ov-mill-no", "103583", "block-dog", "left", "dog-seven", "believed", "1988", ""),
    ("ov-mill-no", "103604", "block-dog", "left", "dog-seven", "believed", "2010", ""),
    ("ov-mill-no", "103640", "block-dog", "right", "dog-seven", "believed", "1999", ""),
    # The restorer: pump bodies around C1510.
    ("pw-unit-no", "C1478", "pump-body", "", "body-small", "believed", "1993", ""),
    ("pw-unit-no", "C1503", "pump-body", "", "body-small", "believed", "2006", ""),
    ("pw-unit-no", "C1512", "pump-body", "", "body-round", "believed", "2000", ""),
    ("pw-unit-no", "C1519", "pump-body", "", "body-round", "believed", "2011", ""),
    ("pw-unit-no", "C1534", "pump-body", "", "body-round", "believed", "2014", ""),
    # Whole engines from other units: everything on the engine is younger than the frame, or older.
    ("pw-unit-no", "B1430", "bearing-cap", "left", "cap-ring", "unknown", "1997", "The engine is said to be from a Medlar."),
    ("pw-unit-no", "B1430", "bearing-cap", "right", "cap-ring", "unknown", "1997", "The engine is said to be from a Medlar."),
    ("pw-unit-no", "B1430", "governor", "", "governor-throttle", "unknown", "1997", "The engine is said to be from a Medlar."),
    ("pw-unit-no", "S0310", "bearing-cap", "left", "cap-ring", "unknown", "2004", ""),
    ("pw-unit-no", "S0310", "governor", "", "governor-throttle", "unknown", "2004", ""),
    ("pw-unit-no", "D1611", "flywheel-hub", "", "hub-keyed", "unknown", "2008", "Engine number begins with N."),
    ("pw-unit-no", "D1611", "bearing-cap", "left", "cap-plain", "unknown", "2008", "Engine number begins with N."),
    ("pw-unit-no", "D1611", "governor", "", "governor-latch", "unknown", "2008", "Engine number begins with N."),
    # Serials that could not be read whole: kept, not used in estimates.
    ("pw-unit-no", "C1?42", "pump-body", "", "body-round", "believed", "1999", "The second figure is rust."),
    ("pw-unit-no", "?0733", "pump-cover", "left", "cover-flat", "unknown", "1988", ""),
    ("pw-unit-no", "D*17", "valve-chest", "", "chest-two", "unknown", "1994", "Corner of the pad broken off."),
    ("ov-mill-no", "1048[38]3", "arbor-housing", "left", "housing-seal35", "believed", "1985", ""),
    ("ov-mill-no", "10635?", "brake-band", "", "band-woven", "unknown", "1990", ""),
    ("ov-mill-no", "*421", "feed-cam", "", "cam-two-lobe", "unknown", "1982", "Corner of the cap broken off."),
    # Doubts: beyond the numbers known so far, and a letter nobody has explained.
    ("pw-unit-no", "E1624", "base-frame", "", "base-truck", "believed", "2016", "The works book ends at E1600."),
    ("pw-unit-no", "R0921W", "flywheel-hub", "", "hub-taper", "believed", "2013", "Nobody knows what the W says."),
    # An export unit, its letter left on.
    ("pw-unit-no", "T0418X", "pump-cover", "left", "cover-dished-b", "believed", "2015", "Came back from overseas."),
)  # fmt: skip

# No further unit is drawn here: the stories need these stretches unseen.
UNSEEN = {("arbor-housing", "105039", "105187"), ("feed-cam", "107190", "107420"), ("pump-body", "C1470", "C1540")}
T = TypeVar("T")


class Unit(NamedTuple):
    """A number somebody could come across."""

    series: str
    line: str
    serial: str
    model: str
    order: int
    built: date


class Draw:
    """Random choices that stay the same from one Python to the next: only `random()` is used."""

    def __init__(self, seed: int) -> None:
        self._random = random.Random(seed)

    def chance(self, share: float) -> bool:
        """True in that share of all cases."""
        return self._random.random() < share

    def whole(self, first: int, last: int) -> int:
        """A whole number from first to last, both included."""
        return first + int(self._random.random() * (last - first + 1))

    def pick(self, choices: Sequence[T], weights: Sequence[float] | None = None) -> T:
        """One of the choices, by weight."""
        weights = weights or [1.0] * len(choices)
        left = self._random.random() * sum(weights)
        for choice, weight in zip(choices, weights, strict=True):
            left -= weight
            if left < 0:
                return choice
        return choices[-1]


def table(name: str) -> list[dict[str, str]]:
    """The rows of one file of the dataset."""
    with open(FOLDER / f"{name}.csv", newline="", encoding="utf-8") as file:
        return list(csv.DictReader(file))


def units(draw: Draw) -> dict[tuple[str, str], list[Unit]]:
    """Every unit of every series and line in production order. In a shared block chance decides the model."""
    blocks = [row for row in table("blocks") if not row["rival_of"]]
    shares: dict[str, list[tuple[str, float]]] = {}
    for row in table("block_models"):
        shares.setdefault(row["block_id"], []).append((row["model_id"], float(row["units"])))
    lines: dict[tuple[str, str], list[Unit]] = {}
    for row in sorted(blocks, key=lambda row: (row["series_id"], row["line"], int(row["position"]))):
        line = lines.setdefault((row["series_id"], row["line"]), [])
        first = int(row["first"])
        later = [int(b["first"]) for b in blocks if b["series_id"] == row["series_id"] and b["prefix"] == row["prefix"] and int(b["first"]) > first]
        last = int(row["last"]) if row["last"] else min(later) - 1
        start = date(int(row["built_from"]), 1, 1)
        days = (date(int(row["built_to"]), 12, 31) - start).days
        for number in range(first, last + 1):
            model = draw.pick(*zip(*shares[row["block_id"]], strict=True)) if row["block_id"] in shares else row["model_id"]
            serial = f"{row['prefix']}{number:0{row['width']}d}"
            built = start + timedelta(days * (number - first) // (last - first + 1))
            line.append(Unit(row["series_id"], row["line"], serial, model, len(line), built))
    return lines


def fitted_new(unit: Unit, component: str, orders: dict[str, int], draw: Draw) -> str:
    """The variant that the works fitted to this unit."""
    history = TRUTH.get((unit.series, unit.line, component, unit.model)) or TRUTH[unit.series, unit.line, component, ""]
    variant = history[0].variant
    for new in history[1:]:
        past = unit.order - orders[new.first]
        if past < 0 or (past < new.mixed and not draw.chance((past + 1) / (new.mixed + 1))):
            break
        variant = new.variant
    return variant


def worn(text: str, draw: Draw) -> str:
    """A mark as somebody might write it down: one character unreadable, or one of two."""
    spots = [i for i, character in enumerate(text) if character.isalnum()]
    at = draw.pick(spots)
    alike = {"0": "08", "8": "38", "3": "38", "1": "17", "7": "17", "6": "56", "5": "56", "2": "27"}.get(text[at])
    return text[:at] + (f"[{alike}]" if alike and draw.chance(0.5) else "?") + text[at + 1 :]


def casting_date(maker_layout: str, built: date, draw: Draw) -> str:
    """The date cast into a component of a unit built on that day, some weeks earlier."""
    cast = built - timedelta(draw.whole(10, 90))
    if maker_layout == "ov":
        return f"{'ABCDEFGHJKLM'[cast.month - 1]} {cast.day} {cast.year % 10}"
    year, week, _ = cast.isocalendar()
    return f"{week:02d} {year % 100:02d}"


def sightings() -> list[dict[str, str]]:
    """All rows, told and drawn, by series, serial, component and place."""
    draw = Draw(SEED)
    lines = units(draw)
    orders = {unit.serial: unit.order for line in lines.values() for unit in line}
    places = {row["component_id"]: row["places"].split(";") for row in table("components")}
    services: dict[str, list[tuple[str, float]]] = {}
    for row in table("variants"):
        services.setdefault(row["component_id"], []).append((row["variant_id"], float(row["service_share"] or 1)))
    marks: dict[str, list[str]] = {}
    for row in table("marks"):
        for variant in filter(None, row["variant_ids"].split(";")):
            marks.setdefault(variant, []).append(row["text"])
    rows = [_row(told[:6], told[6], note=told[7]) for told in TOLD]
    seen = {(row["series_id"], row["serial"], row["component_id"]) for row in rows}
    histories = [(key, history) for key, history in TRUTH.items() if len(history) > 1]
    while len(rows) < ROWS:
        key, history = draw.pick(histories)
        line = lines[key[:2]]
        if draw.chance(0.55):
            at = orders[draw.pick(history[1:]).first] + draw.whole(-NEAR, NEAR)
            unit = line[min(max(at, 0), len(line) - 1)]
        else:
            unit = draw.pick(line)
        component = key[2]
        if (unit.series, unit.serial, component) in seen or _unseen(component, unit.serial):
            continue
        seen.add((unit.series, unit.serial, component))
        as_built = fitted_new(unit, component, orders, draw)
        for place in places[component][: 1 + draw.chance(0.5)]:
            swapped = draw.chance(SWAPPED_SINCE)
            variant = draw.pick(*zip(*services[component], strict=True)) if swapped else as_built
            original = "replaced" if swapped and draw.chance(0.4) else "unknown" if swapped or draw.chance(0.45) else "believed"
            row = _row((unit.series, unit.serial, component, place, variant, original), str(draw.whole(1975, 2019)))
            if draw.chance(0.3):
                row |= {"observer": f"member {draw.whole(1, 80)}", "evidence": f"photograph {draw.whole(100, 999)}"}
            if marks.get(variant) and draw.chance(0.15):
                row["variant_id"], row["mark_read"] = "", worn(draw.pick(marks[variant]), draw)
            if not swapped and draw.chance(0.3) and component != "crankcase":
                row["casting_date"] = casting_date(unit.series[:2], unit.built, draw)
            rows.append(row)
    rows = sorted(rows[:ROWS], key=lambda row: (row["series_id"], row["serial"], row["component_id"], row["place"]))
    return [row | {"sighting_id": f"seen-{number:03d}"} for number, row in enumerate(rows, 1)]


def _row(what: Sequence[str], seen_on: str, note: str = "") -> dict[str, str]:
    series, serial, component, place, variant, original = what
    values = dict.fromkeys(COLUMNS, "")
    values |= {"series_id": series, "serial": serial, "component_id": component, "place": place, "variant_id": variant}
    source = "ov-mill-register" if series.startswith("ov") else "pw-owners-list"
    return values | {"original": original, "seen_on": seen_on, "source_id": source, "note": note}


def _unseen(component: str, serial: str) -> bool:
    return any(component == c and len(serial) == len(first) and first <= serial <= last for c, first, last in UNSEEN)


def main(target: Path = FOLDER / "sightings.csv") -> None:
    """Write the file."""
    with open(target, "w", newline="", encoding="utf-8") as file:
        writer = csv.DictWriter(file, COLUMNS, lineterminator="\n")
        writer.writeheader()
        writer.writerows(sightings())


if __name__ == "__main__":
    main()
