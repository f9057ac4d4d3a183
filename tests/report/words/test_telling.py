"""Of very many differences those are shown that say most."""

import math
from dataclasses import dataclass

from soundergate.report.words.telling import few_words, left_out, most_telling, settled_words


@dataclass(frozen=True)
class Row:
    estimate: float
    settled: bool
    few: bool = False


def test_few_rows_stay_as_they_are():
    rows = [Row(0.0, False), Row(5.0, True)]
    assert most_telling(rows, 2) == rows
    assert left_out(2, 2) == ""


def test_of_many_the_settled_come_first_then_the_largest_in_their_order():
    rows = [Row(9.0, False), Row(-3.0, True), Row(1.0, True), Row(math.nan, False), Row(2.0, True)]
    assert most_telling(rows, 2) == [rows[1], rows[4]]
    assert most_telling(rows, 4) == [rows[0], rows[1], rows[2], rows[4]]
    assert "4 largest of 5" in left_out(4, 5)


def test_too_few_nights_are_said():
    row = Row(1.0, False, True)
    assert settled_words(row) == "too few nights to tell"
    assert (settled_words(Row(1.0, True)), settled_words(Row(1.0, False))) == ("yes", "no")
    assert "50 nights" in few_words([Row(1.0, True), row])
    assert few_words([Row(1.0, True)]) == ""
