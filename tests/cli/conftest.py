"""A small club's dataset of an invented maker, and the database built from it."""

from pathlib import Path

import pytest
from click.testing import CliRunner

from kb.cli import main

FILES = {
    "sources.csv": """source_id,title,kind,grade
list-1948,"Parts list, 1948",parts list,A
bulletin-7,Bulletin 7,service bulletin,A
""",
    "makers.csv": "maker_id,name\norlop,Orlop\n",
    "models.csv": "model_id,maker_id,name\nm-1,orlop,M1\nm-2,orlop,M2\n",
    "series.csv": "series_id,maker_id,name,stamped_on\nframe,orlop,Frame numbers,headstock\n",
    "blocks.csv": """block_id,series_id,position,prefix,first,last,width,model_id,built_from,source_id,page
b-46,frame,1,B,1,500,5,m-1,1946,list-1948,3
b-48,frame,2,B,501,900,5,m-2,1948,list-1948,3
""",
    "components.csv": """component_id,maker_id,assembly,name,places,safety_critical
cover,orlop,drive,Cover,left;right,no
""",
    "variants.csv": "variant_id,component_id,name,how_to_tell\ncover-early,cover,early,three holes\ncover-late,cover,late,four holes\n",
    "marks.csv": "mark_id,variant_ids,text,kind\nmark-e,cover-early,H4110A,casting number\nmark-l,cover-late,H4120B,casting number\n",
    "features.csv": "feature_id,component_id,question,effort\nholes,cover,How many holes?,1\n",
    "feature_values.csv": "variant_id,feature_id,value\ncover-early,holes,3\ncover-late,holes,4\n",
    "breakpoints.csv": """breakpoint_id,series_id,component_id,old_variant_id,new_variant_id,first_new,source_id,page
p-1,frame,cover,cover-early,cover-late,B00412,list-1948,12
p-2,frame,cover,cover-early,cover-late,B00412,bulletin-7,
""",
    "sightings.csv": """sighting_id,series_id,serial,component_id,place,variant_id,original,observer
s-1,frame,B00400,cover,left,cover-early,unknown,R. Roe
""",
    "parts.csv": """part_number,description,kind,unit,available,safety_critical
1407,Seal 35 mm,original,each,no,no
1407-A,"Seal 35 mm, rubber",original,each,yes,no
1409,Seal 38 mm,original,each,yes,no
""",
    "fitments.csv": """fitment_id,part_number,component_id,role,quantity,variant_id,source_id,page
f-1,1407,cover,seal,1,cover-early,list-1948,12
f-2,1409,cover,seal,1,cover-late,list-1948,12
""",
    "supersessions.csv": "supersession_id,old_part,new_part,direction,source_id\ns-1407,1407,1407-A,one-way,bulletin-7\n",
}


def write(folder: Path) -> Path:
    """The dataset as files in a folder."""
    folder.mkdir(parents=True, exist_ok=True)
    for name, text in FILES.items():
        (folder / name).write_text(text, "utf-8")
    return folder


@pytest.fixture
def club(tmp_path: Path) -> Path:
    """The folder, to be changed."""
    return write(tmp_path / "club")


@pytest.fixture(scope="session")
def db(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The database built from it."""
    folder = tmp_path_factory.mktemp("cli")
    result = CliRunner().invoke(main, ["build", str(write(folder / "club")), "-o", str(folder / "kb.db")], catch_exceptions=False)
    assert result.exit_code == 0, result.output
    return folder / "kb.db"
