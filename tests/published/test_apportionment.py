"""Largest remainders against the first apportionment of a parliament by this method."""

from fractions import Fraction

from apps.reckoning.settling import apportion

# Census of the United States 1790, and Hamilton's apportionment of 120 seats (1792, vetoed):
# M. Balinski, H. P. Young, "Fair Representation", 2nd ed. 2001, chapter 3. From memory; that the
# fifteen numbers of seats follow from the fifteen populations speaks for both.
CENSUS_OF_1790 = {
    "Connecticut": (236_841, 8),
    "Delaware": (55_540, 2),
    "Georgia": (70_835, 2),
    "Kentucky": (68_705, 2),
    "Maryland": (278_514, 9),
    "Massachusetts": (475_327, 16),
    "New Hampshire": (141_822, 5),
    "New Jersey": (179_570, 6),
    "New York": (331_589, 11),
    "North Carolina": (353_523, 12),
    "Pennsylvania": (432_879, 14),
    "Rhode Island": (68_446, 2),
    "South Carolina": (206_236, 7),
    "Vermont": (85_533, 3),
    "Virginia": (630_560, 21),
}


def test_hamiltons_seats_of_1792():
    weights = [Fraction(people) for people, _ in CENSUS_OF_1790.values()]
    assert apportion(120, weights) == [seats for _, seats in CENSUS_OF_1790.values()]


def test_the_alabama_paradox_of_the_method():
    """One seat more in all may cost one party a seat: a textbook example with 10 and 11 seats.

    Populations 6, 6 and 2: Wikipedia, "Alabama paradox" (from memory).
    """
    weights = [Fraction(6), Fraction(6), Fraction(2)]
    assert apportion(10, weights) == [4, 4, 2]
    assert apportion(11, weights) == [5, 5, 1]
