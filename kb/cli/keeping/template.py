"""`kb template`: an empty dataset to fill in, as a folder or as a workbook, or the datapackage.json of one that is filled in."""

import re
from pathlib import Path

import click

_ATTRIBUTES = ".gitattributes"  # rows that two people add at the end of a file are both kept when git merges


@click.command("template")
@click.argument("folder", required=False, type=click.Path(path_type=Path))
@click.option("-o", "--workbook", metavar="BOOK.xlsx", type=click.Path(path_type=Path), help="A workbook instead: empty, or with FOLDER's contents.")
@click.option("--datapackage", "only_package", is_flag=True, help="Write only datapackage.json, for the files that are there.")
def command(folder: Path | None, workbook: Path | None, only_package: bool) -> None:
    """Make an empty dataset in FOLDER: every file with its header row, and a datapackage.json that describes them.

    Delete the files you do not need. Nothing that already exists is overwritten. With -o, write a workbook with a sheet for each
    file, to be imported with kb import workbook.
    """
    if workbook is not None:
        _workbook(workbook, folder)
        return
    if folder is None:
        raise click.UsageError("Name a FOLDER, or a workbook with -o.")
    from kb.dataset.datapackage import datapackage, dump
    from kb.words.records import TABLES
    from kb.words.records.columns import columns

    present = [table for table in TABLES if (folder / f"{table}.csv").exists()]
    headers = {} if only_package else {f"{table}.csv": ",".join(column.name for column in columns(table)) + "\n" for table in TABLES}
    name = re.sub(r"[^a-z0-9._-]+", "-", folder.absolute().name.lower()).strip("-") or "dataset"
    package = datapackage(present if only_package else None, name=name)
    apart = {} if only_package or (folder / _ATTRIBUTES).exists() else {_ATTRIBUTES: "*.csv merge=union\n"}
    written = _write(folder, {**headers, **apart, "datapackage.json": dump(package)}, make=not only_package)
    click.echo(f"{folder}: {written[0] if len(written) == 1 else f'{len(written)} files'} written.")


def _workbook(path: Path, folder: Path | None) -> None:
    """Write a workbook.

    Raises:
        FileError: it is there already, or cannot be written.
    """
    from kb.words.errors import FileError
    from loaders.newbook import write
    from loaders.workbook import tables_of

    if path.exists():
        raise FileError(f'"{path}" is there already.', "Name a new file, or move the old one away.")
    if path.suffix.lower() != ".xlsx":
        raise FileError(f'"{path}" is no name of a workbook.', "Let it end in .xlsx.")
    held = tables_of(folder) if folder is not None else {}
    write(path, held)
    rows = sum(len(table.rows) for table in held.values())
    click.echo(f"{path}: {rows} rows written." if held else f"{path} written.")


def _write(folder: Path, files: dict[str, str], make: bool) -> list[str]:
    """Write new files.

    Raises:
        FileError: one of them is there already, or the folder cannot be written to.
    """
    from kb.output.writing import put
    from kb.words.errors import FileError

    there = [name for name in files if (folder / name).exists()]
    if there:
        remedy = "Name a new folder." if make else "Delete it to have it written anew."
        raise FileError(f'"{folder}" already has {", ".join(there[:3])}{" and more" if len(there) > 3 else ""}.', remedy)
    try:
        if make:
            folder.mkdir(parents=True, exist_ok=True)
        for name, text in files.items():
            put(folder / name, text.encode(), new=True)
    except OSError as error:
        raise FileError(f'"{folder}" cannot be written to: {error.strerror or error}.', "Name a folder of your own.") from error
    return list(files)
