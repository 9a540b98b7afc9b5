"""A small dataset folder of an invented maker, right in every cell, and the demo data."""

import shutil
from pathlib import Path

import pytest

FILES = {
    "sources.csv": "source_id,title,kind,grade\nlist-1948,\"Parts list, 1948\",parts list,B\nregister,Register,club register,C\n",
    "makers.csv": "maker_id,name\norlop,Orlop\n",
    "models.csv": "model_id,maker_id,name\nm-1,orlop,M1\n",
    "series.csv": "series_id,maker_id,name,stamped_on\nframe,orlop,Frame numbers,headstock\n",
    "blocks.csv": "block_id,series_id,position,prefix,first,last,width,model_id,source_id,retracted\nb-46,frame,1,B,1,900,5,m-1,list-1948,\n",
    "components.csv": "component_id,maker_id,assembly,name,places,safety_critical\ncover,orlop,drive,Cover,left;right,no\n",
    "variants.csv": "variant_id,component_id,name,how_to_tell\nearly,cover,early,three holes\nlate,cover,late,four holes\n",
    "breakpoints.csv": "breakpoint_id,series_id,component_id,old_variant_id,new_variant_id,first_new,as_printed,source_id\n"
    "p-1,frame,cover,early,late,B00412,B412 & up,list-1948\n",
    "sightings.csv": "sighting_id,series_id,serial,component_id,variant_id,original,retracted\nseen-001,frame,B00400,cover,early,believed,\n",
    "parts.csv": "part_number,description,kind,unit,available,safety_critical\n1407,Seal,original,each,no,no\n1407-A,Seal,original,each,yes,no\n",
    "supersessions.csv": "supersession_id,old_part,new_part,direction,source_id\ns-1,1407,1407-A,one-way,list-1948\n",
}  # fmt: skip


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    """The small folder, to be changed."""
    target = tmp_path / "club"
    target.mkdir()
    for name, text in FILES.items():
        (target / name).write_text(text, "utf-8")
    return target


@pytest.fixture
def demo(root: Path, tmp_path: Path) -> Path:
    """A copy of the demo data, to be changed."""
    return Path(shutil.copytree(root / "demo_data" / "mills-and-pumps", tmp_path / "mills-and-pumps"))
