"""A small dataset with one of everything the model knows, so small that every serial can be walked.

Two makers: Quenby with one line of padded running numbers, an affix, shared and model-own blocks; Ordish with prefix letters, a check digit,
two lines and an engine series beside the unit series. All names are invented.
"""

import csv
from pathlib import Path

Tables = dict[str, list[dict[str, str]]]


def _rows(text: str) -> list[dict[str, str]]:
    """Rows from lines of cells separated by `|`; the first line names the columns."""
    lines = [[cell.strip() for cell in line.split("|")] for line in text.strip().splitlines()]
    return [dict(zip(lines[0], line, strict=True)) for line in lines[1:]]


_TABLES = {
    "sources": """
        source_id | title                 | kind            | grade | copied_from
        book      | Parts book            | parts list      | A     |
        bulletin  | Bulletin 7            | service bulletin| B     |
        register  | Club register         | club register   | C     |
        reprint   | Reprint of Bulletin 7 | service bulletin| C     | bulletin
        rumour    | Talk at a show        | hearsay         | D     |
    """,
    "makers": "maker_id | name\n quenby | Quenby\n ordish | Ordish",
    "models": """
        model_id | maker_id | name
        q1       | quenby   | Type 1
        q2       | quenby   | Type 2
        o1       | ordish   | Lark
    """,
    "series": """
        series_id | maker_id | name          | stamped_on | component_id | check
        q-no      | quenby   | Frame number  | frame      |              |
        o-no      | ordish   | Unit number   | plate      |              | luhn
        o-engine  | ordish   | Engine number | crankcase  | o-case       |
    """,
    "affixes": "series_id | affix | at | means\n q-no | X | suffix | export",
    "blocks": """
        block_id | series_id | line | position | prefix | first | last | suffix | width | model_id | built_from | built_to | units | source_id
        qa       | q-no      |      | 1        |        | 85    | 114  |        | 4     | q1       | 1931       | 1932     |       | book
        qb       | q-no      |      | 2        |        | 115   | 134  |        | 4     |          | 1933       | 1934     |       | book
        oa       | o-no      | east | 1        | A      | 1     | 30   |        | 3     | o1       | 1931       | 1931     | 24    | book
        ob       | o-no      | west | 1        | B      | 1     | 20   |        | 3     |          | 1933       | 1934     |       | book
        ea       | o-engine  |      | 1        | E      | 1     | 25   |        |       | o1       | 1930       | 1931     |       | book
        eb       | o-engine  |      | 2        | E      | 26    | 45   |        |       |          | 1933       | 1934     |       | book
    """,
    "block_models": "block_id | model_id | units\n qb | q1 | 8\n qb | q2 | 12",
    "components": """
        component_id | maker_id | assembly | name           | places     | safety_critical | replaced_rate
        q-head       | quenby   | top      | Cylinder head  | left;right | no              | 0.1
        q-case       | quenby   | bottom   | Crankcase      |            | no              |
        q-hub        | quenby   | bottom   | Brake hub      |            | yes             |
        q-lid        | quenby   | top      | Lid            |            | no              |
        q-belt       | quenby   | drive    | Belt           |            | no              |
        o-case       | ordish   | engine   | Crankcase      |            | no              |
        o-head       | ordish   | engine   | Head           |            | no              |
        o-frame      | ordish   | frame    | Frame          |            | no              |
    """,
    "variants": """
        variant_id | component_id | name         | same_function_as | service_share
        h1         | q-head       | flat head    |                  |
        h2         | q-head       | ribbed head  |                  |
        h3         | q-head       | tall head    | h2               | 3
        c1         | q-case       | plain case   |                  |
        c2         | q-case       | drained case |                  |
        b1         | q-hub        | narrow hub   |                  |
        b2         | q-hub        | wide hub     |                  |
        l1         | q-lid        | brass lid    |                  |
        l2         | q-lid        | iron lid     |                  |
        oc1        | o-case       | early case   |                  |
        oc2        | o-case       | late case    |                  |
        oh1        | o-head       | early head   |                  |
        oh2        | o-head       | late head    |                  |
        of1        | o-frame      | frame        |                  |
    """,
    "options": """
        option_id | component_id | variant_id | share | model_id | series_id | serial_from | serial_to | source_id
        lid-iron  | q-lid        | l2         | 0.3   |          | q-no      | 0100        | 0120      | book
        lid-brass | q-lid        | l1         | 0.5   | q2       |           |             |           | book
    """,
    "marks": """
        mark_id | variant_ids | text    | kind
        m1      | h1          | H 4101  | casting number
        m2      | h2          | H 4107  | casting number
        m3      | h3          | H 4701  | casting number
        m4      | h3          | T       | pattern letter
        m5      | c1          | C 200   | casting number
        m6      | c2          | C 208   | casting number
        m7      | b1;b2       | B 33    | casting number
        m8      | oc1         | OC 11   | casting number
        m9      | oc2         | OC 17   | casting number
        m10     | oh1         | OH 6    | casting number
        m11     | oh2         | OH 9    | casting number
        f1      |             | VX      | foundry
    """,
    "features": """
        feature_id | component_id | question          | kind    | unit | effort | error
        drain-lug  | q-case       | Drain lug?        | choice  |      | 1      |
        hub-width  | q-hub        | Width of the hub? | measure | mm   | 5      | 0.05
    """,
    "feature_values": """
        variant_id | feature_id | value | low  | high
        c1         | drain-lug  | no    |      |
        c2         | drain-lug  | yes   |      |
        b1         | hub-width  |       | 30   | 32
        b2         | hub-width  |       | 32.5 |
    """,
    "breakpoints": """
        breakpoint_id | series_id | component_id | model_id | old_variant_id | new_variant_id | first_new | first_new_to | about | when | last_old | source_id | retracted
        head-start | q-no | q-head |  |  | h1 | 0085 |  |  |  |  | book |
        head-12 | q-no | q-head |  | h1 | h2 | 0098 |  |  |  | 0097 | bulletin |
        head-12-copy | q-no | q-head |  | h1 | h2 | 0089 |  |  |  |  | reprint |
        head-12-club | q-no | q-head |  | h1 | h2 | 0102 |  |  |  |  | register |
        head-23 | q-no | q-head |  | h2 | h3 | 0110 | 0118 |  |  |  | register |
        head-q2 | q-no | q-head | q2 |  | h2 | 0115 |  |  |  |  | book |
        case-1 | q-no | q-case |  | c1 | c2 | 0105 |  |  |  | 0112 | bulletin |
        case-date | q-no | q-case |  | c1 | c2 |  |  |  | 1932 |  | rumour |
        hub-1 | q-no | q-hub |  | b1 | b2 | 0120 |  | yes |  |  | register |
        hub-gone | q-no | q-hub |  | b1 | b2 | 0090 |  |  |  |  | rumour | misread
        ocase-1 | o-engine | o-case |  | oc1 | oc2 | E20 |  |  |  |  | bulletin |
        ohead-1 | o-no | o-head |  | oh1 | oh2 | A0174 |  |  |  |  | register |
        ohead-west | o-no | o-head |  |  | oh2 | B0018 |  |  |  |  | book |
    """,  # noqa: E501 - one row of a table is one line
    "sightings": """
        sighting_id | series_id | serial | component_id | place | variant_id | mark_read | original | seen_on
        s1          | q-no      | 0096   | q-head       | left  | h1         |           | believed |
        s2          | q-no      | 0103   | q-head       | left  | h2         |           | unknown  |
        s3          | q-no      | 0104   | q-head       | right |            | H41?7     | unknown  |
        s4          | q-no      | 0103X  | q-case       |       | c1         |           | believed |
        s5          | q-no      | 0109   | q-case       |       | c1         |           | unknown  |
        s6          | q-no      | 0131   | q-case       |       | c1         |           | unknown  | 1998
        s7          | q-no      | 0131   | q-case       |       | c2         |           | unknown  | 2004
        s8          | q-no      | 0088   | q-case       |       | c2         |           | unknown  |
        s9          | q-no      | 01?1   | q-case       |       | c1         |           | unknown  |
        s10         | o-engine  | E18    | o-case       |       | oc1        |           | believed |
        s11         | o-engine  | E30    | o-case       |       |            | OC 1?     | replaced |
    """,
    "parts": """
        part_number | description  | kind     | unit | available | safety_critical
        1407        | Seal         | original | each | no        | no
        1407-A      | Seal         | original | each | yes       | no
        1408        | Seal, wide   | original | each | yes       | no
        1500        | Gasket, head | original | each | yes       | no
        1501        | Gasket, tall | original | each | yes       | no
        1600        | Hub bearing  | standard | each | yes       | yes
        1601        | Hub bearing  | standard | each | yes       | no
        1700        | Belt         | standard | each | unknown   | no
        1800        | Bush         | original | each | no        | no
        1801        | Bush half    | original | each | yes       | no
        1900        | Cap          | original | each | yes       | no
    """,
    "fitments": """
        fitment_id | part_number | component_id | role | fits | quantity | per | series_id | serial_from | serial_to | model_id | variant_id | place | measure_first | source_id
        f1 | 1407 | q-case | seal |  | 1 | place |  |  |  |  | c1 |  |  | book
        f2 | 1408 | q-case | seal |  | 1 | place |  |  |  |  | c2 |  |  | book
        f3 | 1408 | q-case | seal | no | 1 | place | q-no | 0125 |  |  |  |  |  | bulletin
        f4 | 1500 | q-head | gasket |  | 2 | place |  |  |  |  | h1 |  |  | book
        f5 | 1501 | q-head | gasket |  | 2 | place |  |  |  |  | h2 |  |  | book
        f6 | 1600 | q-hub | bearing |  | 2 | unit | q-no |  | 0119 |  |  |  |  | book
        f7 | 1601 | q-hub | bearing |  | 2 | unit |  |  |  |  | b2 |  | width of the bore | rumour
        f8 | 1700 | q-belt | belt |  | 1 | place |  |  |  | q1 |  |  |  | book
        f9 | 1800 | o-case | bush |  | 1 | place | o-engine |  | E19 |  |  |  |  | book
        f10 | 1900 | q-head | cap |  | 1 | place |  |  |  |  |  | left |  | book
        f11 | 1900 | q-head | cap |  | 1 | place |  |  |  |  | h3 | right |  | book
    """,  # noqa: E501 - one row of a table is one line
    "fitment_conditions": """
        fitment_id | component_id | place | variant_id | feature_id | value | low | high
        f5         | q-case       |       |            | drain-lug  | yes   |     |
        f10        | q-lid        |       | l1         |            |       |     |
    """,
    "supersessions": """
        supersession_id | old_part | new_part | group | quantity | direction | carries_fitment | series_id | serial_from | variant_id | source_id
        s-1             | 1407     | 1407-A   |       | 1        | one-way   | yes             | q-no      | 0090        |            | bulletin
        s-2             | 1800     | 1801     | pair  | 2        | one-way   | yes             |           |             |            | book
    """,
}


def small() -> Tables:
    """The rows of the dataset by table."""
    tables = {name: _rows(text) for name, text in _TABLES.items()}
    for row in tables["variants"]:
        row["how_to_tell"] = f"by its shape: {row['name']}"
    return tables


def write(tables: Tables, folder: Path) -> Path:
    """The dataset as a folder of CSV files."""
    folder.mkdir(parents=True, exist_ok=True)
    for name, rows in tables.items():
        with (folder / f"{name}.csv").open("w", encoding="utf-8", newline="") as opened:
            writer = csv.DictWriter(opened, fieldnames=list(dict.fromkeys(column for row in rows for column in row)))
            writer.writeheader()
            writer.writerows(rows)
    return folder
