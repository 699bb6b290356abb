"""Months of a season: from dates to the numbers that the solver counts in."""

from collections.abc import Collection
from datetime import date


def month_of(first: date, number: int) -> date:
    """The first day of the month so many months after the first."""
    months = first.year * 12 + first.month - 1 + number
    return date(months // 12, months % 12 + 1, 1)


def months_of(first: date, count: int) -> list[date]:
    return [month_of(first, number) for number in range(count)]


def numbers_in(months: list[date], of_the_year: Collection[int]) -> frozenset[int]:
    """Which of the months are one of these months of the year (1 to 12)."""
    return frozenset(n for n, month in enumerate(months) if month.month in of_the_year)
