"""Yard visits: one party at one site once, within one span of its hours.

Plans consist of yard visits, not of single looks: a yard visit may look at any boats there, one
after the other. This loses nothing if a plan can visit a site again where that can pay
(`most_yard_visits`).
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

from apps.planning.solver.problem import Problem, Span


@dataclass(frozen=True)
class YardVisit:
    """A party at a site once, within a span; `boats` are those it may look at there.

    `late`: it opens after the party could be there. `early`: it closes before the party must leave
    there to be back in time.
    """

    party: int
    site: int
    span: Span
    boats: tuple[int, ...]
    nth: int = 0
    fixed: bool = False
    late: bool = False
    early: bool = False

    def again(self, other: "YardVisit") -> bool:
        """Whether the other is another one within the same span: it never follows right after."""
        return (self.site, self.span, self.fixed) == (other.site, other.span, other.fixed)


def yard_visits_of(problem: Problem, party: int, hopeful: Sequence[int]) -> list[YardVisit]:
    """All yard visits that this party's day can need; those within one span are consecutive."""
    yard_visits = [*_fixed(problem, party, hopeful), *_others(problem, party, hopeful)]
    return [
        replace(yard_visit, nth=nth)
        for yard_visit in yard_visits
        for nth in range(most_yard_visits(yard_visit, yard_visits))
    ]


def _fixed(problem: Problem, party: int, hopeful: Sequence[int]) -> Iterator[YardVisit]:
    for number in hopeful:
        boat = problem.boats[number]
        if boat.fixed is not None and boat.fixed[0] == party:
            span = boat.fixed[1], boat.fixed[1] + boat.minutes
            soonest, latest = _there(problem, party, boat.site)
            late, early = span[0] > soonest, span[1] < latest
            yield YardVisit(party, boat.site, span, (number,), fixed=True, late=late, early=early)


def _others(problem: Problem, party: int, hopeful: Sequence[int]) -> Iterator[YardVisit]:
    for site in range(len(problem.sites)):
        boats = _open_to(problem, party, site, hopeful)
        soonest, latest = _there(problem, party, site)
        for span in problem.sites[site].spans:
            opens, closes = max(span[0], soonest), min(span[1], latest)
            fitting = tuple(n for n in boats if problem.boats[n].minutes <= closes - opens)
            if fitting:
                late, early = span[0] > soonest, span[1] < latest
                yield YardVisit(party, site, (opens, closes), fitting, late=late, early=early)


def _open_to(problem: Problem, party: int, site: int, hopeful: Sequence[int]) -> list[int]:
    return [
        n
        for n in hopeful
        if (boat := problem.boats[n]).site == site and party in boat.by and boat.fixed is None
    ]


def _there(problem: Problem, party: int, site: int) -> Span:
    """When the party could be at a site, whatever the site's hours."""
    who, place = problem.parties[party], problem.place(site)
    return (
        who.leaves + problem.minutes[problem.origin(party)][place],
        who.back - problem.minutes[place][problem.home(party)],
    )


def most_yard_visits(yard_visit: YardVisit, others: Sequence[YardVisit]) -> int:
    """How many yard visits a party may need at a site within one span of its hours.

    A second one pays only if something else must be done in between: not before, because it is not
    open yet, and not after, because it is closed by then. Otherwise, by the triangle inequality,
    all looks here could be made at once, before or after it. So there are at most one plus the
    number of times at which another one opens late, and at most one plus the number of times at
    which another one closes early. (Two that open at the same time count once: after the first of
    them the party need not wait for the second.)
    """
    opening, closing = between(yard_visit, others)
    opens = {other.span[0] for other in opening}
    closes = {other.span[1] for other in closing}
    return min(1 + min(len(opens), len(closes)), len(yard_visit.boats))


def between(
    yard_visit: YardVisit, others: Sequence[YardVisit]
) -> tuple[list[YardVisit], list[YardVisit]]:
    """Others that can make a party return to this yard visit: those that open late while it is
    open, and those that close early. It takes one of each, or one that is both.
    """
    opens, closes = yard_visit.span
    besides = [other for other in others if not yard_visit.again(other)]
    return (
        [other for other in besides if other.late and opens < other.span[0] < closes],
        [other for other in besides if other.early and opens < other.span[1] < closes],
    )
