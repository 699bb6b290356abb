"""Open doubts in a few lines: by who must judge them or what settles them, the worst first."""

from collections import defaultdict
from collections.abc import Iterable, Iterator

from apps.appraisal.board.candidate_answer import DoubtRead
from apps.appraisal.stored.standing import Doubt
from apps.appraisal.words.phrases import LEVELS, article
from apps.reports import words
from apps.reports.content import Line

RECEIPT = "receipt"
DOUBTS_UNREADABLE = (
    "open doubts of an earlier version of the service cannot be shown any more and are being "
    "computed again. An empty list here does not mean that none is open."
)


def doubt_lines(doubts: Iterable[DoubtRead]) -> Iterator[Line]:
    """Lines for the doubts among a boat's reasons, each with who raised it."""
    by_judge: defaultdict[str, list[DoubtRead]] = defaultdict(list)
    for one in doubts:
        by_judge[who_closes(one)].append(one)
    for judge, judged in by_judge.items():
        settles = "settles:" if judge == RECEIPT else "must judge:"
        yield Line(in_one(judged), lead=f"{words.capital(article(judge))} {settles}")


def who_closes(doubt: Doubt) -> str:
    """The professional who must judge it, or a receipt if that is enough."""
    return RECEIPT if doubt.get("receipt") else doubt["judged_by"]


def in_one(judged: Iterable[DoubtRead]) -> str:
    """'Rust on an iron keel; Hatches (defective; Walt, 15 October 2026).'"""
    stated: defaultdict[tuple[str, str, str], list[str]] = defaultdict(list)
    for one in judged:
        seen = (LEVELS[one["level"]], one["name"], words.day(one["seen_at"]))
        stated[seen].append(one["title"])
    return " ".join(
        f"{'; '.join(titles)} ({level}; {name}, {day})."
        for (level, name, day), titles in stated.items()
    )
