"""A small dataset folder of an invented maker, right in every cell."""

from pathlib import Path

import pytest

FILES = {
    "sources.csv": """source_id,title,kind,grade,copied_from,note
list-1948,"Parts list, 1948",parts list,B,,
bulletin-7,Bulletin 7,service bulletin,A,,
""",
    "makers.csv": """maker_id,name
orlop,Orlop
""",
    "models.csv": """model_id,maker_id,name,built_from
m-1,orlop,M1,1946
m-2,orlop,M2,1948-05
""",
    "series.csv": """series_id,maker_id,name,stamped_on
frame,orlop,Frame numbers,headstock
""",
    "blocks.csv": """block_id,series_id,position,prefix,first,last,width,model_id,built_from,source_id
b-46,frame,1,B,1,500,5,m-1,1946,list-1948
b-48,frame,2,B,501,900,5,m-2,1948,list-1948
""",
    "components.csv": """component_id,maker_id,assembly,name,places,safety_critical
cover,orlop,drive,Cover,left;right,no
""",
    "variants.csv": """variant_id,component_id,name,how_to_tell,service_share
cover-early,cover,early,three holes,
cover-late,cover,late,four holes,0.5
""",
    "breakpoints.csv": """breakpoint_id,series_id,component_id,old_variant_id,new_variant_id,first_new,source_id,page
p-1,frame,cover,cover-early,cover-late,B00412,list-1948,12
p-2,frame,cover,cover-early,cover-late,B00412,bulletin-7,
""",
    "parts.csv": """part_number,description,kind,unit,available,safety_critical,x_shelf
1407,Seal,original,each,no,no,
1407-A,Seal,original,each,yes,no,B 4
""",
}


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    """The folder, to be damaged."""
    target = tmp_path / "club"
    target.mkdir()
    for name, text in FILES.items():
        (target / name).write_text(text, "utf-8")
    return target
