"""docs/model.md written a second time, as plainly as possible: every serial, variant, change-over and own number is walked one by one.

For small datasets only (some hundreds of serials). It shares nothing with the program but the assumptions, so that a mistake made there is
not made here again; whoever doubts an answer of the program can read these modules beside the page, section by section:

    readings    1   text, tokens, weight of a text        changeovers 5   b, w, claims, sightings, the chain
    serials     2   blocks, order, weight of a serial     built       6   what left the works, own numbers
    checkdigits 2   check characters                      fitted      7   what is fitted now, swapped assemblies
    unknown     3   texts that nobody recorded            unit        8   which unit it is; 11 a loose casting
    places      4   marks, features, measures             fitment     9   does a part fit
    dates       13  casting dates
    looks       10  what a second look would tell
    lineages    5   which variants followed each other    review      5   what is known about each change-over
    tables          rows as text, days of a date

A dataset is `Tables`: table name -> rows of text as in the CSV files. Evidence is a dict:
{"maker": id or None, "model": id or None, "serials": [(series or None, reading, wear or None)],
"marks": [(component or None, place or "", reading or "none", wear or None)], "features": [(component, place, feature, value)],
"dates": [(component, place, code)]}.
"""

from .fitment import fits
from .review import review
from .tables import Tables, read_folder
from .unit import casting, identify

__all__ = ["Tables", "casting", "fits", "identify", "read_folder", "review"]
