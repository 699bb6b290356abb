"""What is understood of boats as people paste them."""

import csv
from io import StringIO

import pytest

from apps.boats.pasted import understood


def rows_of(text: str, currency: str = "EUR") -> list[dict[str, str]]:
    rows = csv.DictReader(StringIO(understood(text, currency).csv))
    return [{name: cell for name, cell in row.items() if cell} for row in rows]


HERON = {
    "name": "Heron",
    "asking.amount": "31000",
    "asking.currency": "EUR",
    "loa_m": "9.8",
    "build_year": "1984",
    "place.yard": "Cold Harbour",
}


@pytest.mark.parametrize(
    "line",
    [
        "Heron, 31,000 EUR, 9.8 m, 1984, Cold Harbour",
        "Heron; €31.000; 9,8 m; built 1984; Cold Harbour",
        "Heron\t31 000 €\t9.8 metres\t1984\tCold Harbour",
        "Heron | Cold Harbour | 1984 | 31'000 | 9.8m",
    ],
)
def test_a_line_as_in_an_advert(line):
    assert rows_of(line) == [HERON]


def test_a_table_with_words_of_ones_own():
    text = "Boat;Asking price;Length;Year;Where\nHeron;31.000 €;9,8 m;1984;Cold Harbour\n"
    assert rows_of(text) == [HERON]


def test_a_table_with_the_columns_of_the_import_stays_what_it_is():
    text = 'name,asking.amount,asking.currency,keel\n"Heron, the old one",31000,EUR,full\n'
    (row,) = rows_of(text)
    assert row == {
        "name": "Heron, the old one",
        "asking.amount": "31000",
        "asking.currency": "EUR",
        "keel": "full",
    }


@pytest.mark.parametrize(
    ("part", "understood_as"),
    [
        ("32 ft", {"loa_ft": "32"}),
        ("32'", {"loa_ft": "32"}),
        ("$24,500", {"asking.amount": "24500", "asking.currency": "USD"}),
        ("24500.50", {"asking.amount": "24500.50", "asking.currency": "EUR"}),
        ("£ 9 000", {"asking.amount": "9000", "asking.currency": "GBP"}),
        ("https://example.org/heron", {"links": "https://example.org/heron"}),
        ("1850", {"build_year": "1850"}),
        ("1849", {"asking.amount": "1849", "asking.currency": "EUR"}),
        ("a good boat", {"place.yard": "a good boat"}),
    ],
)
def test_what_a_part_is(part, understood_as):
    assert rows_of(f"Heron; {part}") == [{"name": "Heron", **understood_as}]


def test_dollars_are_those_of_the_list():
    (row,) = rows_of("Heron; $24,500", currency="CAD")
    assert row["asking.currency"] == "CAD"


def test_a_currency_of_its_own_column_counts():
    (row,) = rows_of("name;price;currency\nHeron;31000;GBP")
    assert row["asking.currency"] == "GBP"


def test_what_is_left_over_is_a_note():
    (row,) = rows_of("Heron; Cold Harbour; new sails; one owner")
    assert row["place.yard"] == "Cold Harbour"
    assert row["note"] == "new sails, one owner"


def test_rows_know_their_lines():
    assert understood("\nHeron\n\nDunlin\n", "EUR").lines == {2: 2, 3: 4}
    assert understood("name\n\nHeron", "EUR").lines == {2: 3}


def test_a_cell_may_hold_lines_and_its_row_begins_at_the_first():
    text = 'name,note\nHeron,"new sails\none owner"\nDunlin,'
    pasted = understood(text, "EUR")
    assert [row["name"] for row in csv.DictReader(StringIO(pasted.csv))] == ["Heron", "Dunlin"]
    assert pasted.lines == {2: 2, 3: 4}


def test_a_thousand_that_was_parted_by_the_comma_of_the_table_is_not_lost():
    """Its row has a cell too many, which the import refuses."""
    header, row = understood("name,price,length\nHeron,31,000,9.8", "EUR").csv.splitlines()
    assert len(row.split(",")) > len(header.split(","))


def test_broken_quotes_are_left_for_the_import_to_say():
    text = 'name,note\n"Heron,new'
    assert understood(text, "EUR").csv == text


def test_nothing_pasted_is_no_boat():
    assert rows_of(" \n") == []
