"""Days for the solver: drawn by hypothesis, or made from a seed."""

import math
import random

from hypothesis import strategies as st

from apps.planning.solver.problem import BoatToVisit, Party, Problem, Site, Span

Point = tuple[float, float]


def problem_on_a_map(
    starts: list[Point],
    yards: list[Point],
    parties: list[Party],
    spans: list[tuple[Span, ...]],
    boats: list[BoatToVisit],
) -> Problem:
    """A flat map in kilometres, with straight roads and a kilometre a minute, rounded up."""
    points = [*starts, *yards]
    metres = tuple(tuple(math.ceil(1000 * math.dist(a, b)) for b in points) for a in points)
    minutes = tuple(tuple(math.ceil(m / 1000) for m in row) for row in metres)
    return Problem(tuple(parties), tuple(Site(one) for one in spans), tuple(boats), metres, minutes)


coordinates = st.integers(0, 60)
points = st.tuples(coordinates, coordinates)


@st.composite
def spans(draw: st.DrawFn) -> tuple[Span, ...]:
    """Up to three spans of one day that do not overlap; none: closed."""
    times = draw(st.lists(st.integers(0, 300), max_size=6, unique=True).map(sorted))
    return tuple(zip(times[::2], times[1::2], strict=False))


@st.composite
def days(draw: st.DrawFn, most_boats: int = 5) -> Problem:
    """Small enough to try everything."""
    starts = draw(st.lists(points, min_size=1, max_size=2))
    yards = draw(st.lists(points, min_size=1, max_size=3))
    parties = []
    for _ in starts:
        leaves = draw(st.integers(0, 100))
        most_m = draw(st.none() | st.integers(0, 200_000))
        parties.append(Party(leaves, leaves + draw(st.integers(30, 300)), most_m))
    everybody = frozenset(range(len(parties)))
    boats = [
        BoatToVisit(
            site=draw(st.integers(0, len(yards) - 1)),
            value=draw(st.integers(0, 50)),
            minutes=draw(st.integers(5, 60)),
            by=draw(st.just(everybody) | st.frozensets(st.sampled_from(sorted(everybody)))),
        )
        for _ in range(draw(st.integers(1, most_boats)))
    ]
    return problem_on_a_map(starts, yards, parties, [draw(spans()) for _ in yards], boats)


@st.composite
def days_with_appointments(draw: st.DrawFn) -> Problem:
    """Days where some boats have a time and a party already, possible or not."""
    day = draw(days(most_boats=4))
    boats = []
    for boat in day.boats:
        fixed = draw(
            st.none() | st.tuples(st.integers(0, len(day.parties) - 1), st.integers(50, 250))
        )
        by = boat.by if fixed is None else boat.by | {fixed[0]}
        boats.append(BoatToVisit(boat.site, boat.value, boat.minutes, by, fixed))
    return Problem(day.parties, day.sites, tuple(boats), day.metres, day.minutes)


def large_day(seed: int, *, sites: int = 9, boats: int = 90, parties: int = 4) -> Problem:
    """A club's day: yards within an hour or two, some shut at noon; not all may see all boats."""
    drawn = random.Random(seed)
    places = [(drawn.uniform(0, 90), drawn.uniform(0, 90)) for _ in range(parties + sites)]
    hours = [((480, 1020),), ((480, 720), (780, 1020)), ((540, 960),)]
    everybody = frozenset(range(parties))
    return problem_on_a_map(
        places[:parties],
        places[parties:],
        [
            Party(
                480 + drawn.choice((0, 30, 60)),
                1080 - drawn.choice((0, 60, 120)),
                drawn.choice((150_000, 250_000, None)),
            )
            for _ in range(parties)
        ],
        [drawn.choice(hours) for _ in range(sites)],
        [
            BoatToVisit(
                site=drawn.randrange(sites),
                value=int(drawn.lognormvariate(5, 1)),
                minutes=15 + drawn.randint(40, 100) // 2,
                by=everybody
                if drawn.random() < 0.6
                else frozenset(drawn.sample(sorted(everybody), max(1, parties // 2))),
            )
            for _ in range(boats)
        ],
    )
