"""The dataset with one of everything the model knows, `demo_data/one-of-everything`: so small that every serial can be walked."""

import csv
from pathlib import Path

from tests.enumerator import Tables, read_folder

FOLDER = Path(__file__).parent.parent / "demo_data" / "one-of-everything"


def small() -> Tables:
    """Its rows by table."""
    return read_folder(FOLDER)


def write(tables: Tables, folder: Path) -> Path:
    """Rows as a folder of CSV files."""
    folder.mkdir(parents=True, exist_ok=True)
    for name, rows in tables.items():
        with (folder / f"{name}.csv").open("w", encoding="utf-8", newline="") as opened:
            writer = csv.DictWriter(opened, fieldnames=list(dict.fromkeys(column for row in rows for column in row)))
            writer.writeheader()
            writer.writerows(rows)
    return folder
