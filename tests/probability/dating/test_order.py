"""The order of casting and unit, in words. Common practice: a casting precedes its machine by days to months."""

import pytest

from kb.probability.dating.layout import Layout, decode
from kb.probability.dating.order import relation
from kb.words import edtf
from kb.words.dates import cast_beside, when


@pytest.mark.parametrize(("cast", "built", "dates_are", "order", "text"), [
    ("1948-03-14", "1948-05", "built", "before", "cast on 14 March 1948, in time for a unit built in May 1948"),
    ("1948-05-31", "1948-05", None, "before", "cast on 31 May 1948, in time for a unit built in May 1948"),
    ("1948-06-01", "1948-05", "built", "later", "cast on 1 June 1948, later than the unit, built in May 1948: a service replacement?"),
    ("1948-06", "1948-05-03", "shipped", "later", "cast in June 1948, later than the unit, shipped on 3 May 1948: a service replacement?"),
    ("1949", "1948", "registered", "later", "cast in 1949, later than the unit, first registered in 1948: a service replacement?"),
    ("1947-11", "1948", "model year", "before", "cast in November 1947, in time for a unit of the model year 1948"),
    ("1944", "1948", "built", "long before", "cast in 1944, long before the unit was built in 1948: from stock, or off an older unit?"),
    ("1947-05-01", "1948-05-01", "built", "before", "cast on 1 May 1947, in time for a unit built on 1 May 1948"),
    ("1947-04-30", "1948-05-02", "built", "long before",
     "cast on 30 April 1947, long before the unit was built on 2 May 1948: from stock, or off an older unit?"),
])  # fmt: skip
def test_the_order_of_casting_and_unit(cast: str, built: str, dates_are: str | None, order: str, text: str) -> None:
    found = relation(edtf.parse(cast), edtf.parse(built))
    assert (found.order, cast_beside(found.order, found.cast, edtf.parse(built), dates_are or "")) == (order, text)


@pytest.mark.parametrize(("built", "year", "order"), [("1950", 1948, "long before"), ("1948-04", 1948, "before"), ("1948-02", 1938, "long before")])
def test_of_several_meanings_the_latest_in_time_is_taken(built: str, year: int, order: str) -> None:
    found = relation(decode("C 14 8", Layout.parse("M D Y")), edtf.parse(built))
    assert (found.cast.first.year, found.order) == (year, order)


@pytest.mark.parametrize(("text", "said"), [
    ("1948", "in 1948"), ("1948/1949", "from 1948 to 1949"), ("1948-03", "in March 1948"), ("1948-03-14", "on 14 March 1948"),
    ("1948-03-14/1948-04-02", "from 14 March 1948 to 2 April 1948"), ("1947-12/1948-02", "from December 1947 to February 1948"),
])  # fmt: skip
def test_dates_in_words(text: str, said: str) -> None:
    assert when(edtf.parse(text)) == said
