"""Which checkpoints a boat has, and which of them a viewing can look at. Pure functions.

An unknown fact never rules anything out: a particular without a value may have any value, and a
condition that nobody stated does not hold.
"""

from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass
from functools import lru_cache

from apps.catalogue.content import CautionEntry, CheckpointEntry
from apps.catalogue.snapshot import Catalogue
from apps.catalogue.vocabulary import CONDITIONS

# Conditions that imply another.
IMPLIED: Mapping[str, tuple[str, ...]] = {"mast_elsewhere": ("mast_down",)}


@dataclass(frozen=True)
class PossibleCheck:
    """hampered: the conditions (`vocabulary.CONDITIONS`) that make the look only a guess."""

    checkpoint: CheckpointEntry
    cautions: tuple[CautionEntry, ...]
    hampered: tuple[str, ...] = ()


@dataclass(frozen=True)
class PreventedCheck:
    """`reasons` are codes of `vocabulary.CONDITIONS`, which gives their texts."""

    checkpoint: CheckpointEntry
    reasons: tuple[str, ...]


@dataclass(frozen=True)
class Checklist:
    """The checkpoints that apply to a boat, in walking order."""

    possible: tuple[PossibleCheck, ...]
    not_possible: tuple[PreventedCheck, ...]


def applies(checkpoint: CheckpointEntry, particulars: Mapping[str, str | None]) -> bool:
    """Whether the boat has, or may have, the part that the checkpoint looks at."""
    return all(
        not particulars.get(name) or particulars[name] in allowed
        for name, allowed in checkpoint.applies.items()
    )


def undecided(
    checkpoints: Iterable[CheckpointEntry], particulars: Mapping[str, str | None]
) -> dict[str, list[CheckpointEntry]]:
    """By particular that nobody stated: the checkpoints that only some of its values have.

    Those that another particular rules out already are not among them.
    """
    found: dict[str, list[CheckpointEntry]] = {}
    for checkpoint in checkpoints:
        if applies(checkpoint, particulars):
            for name in checkpoint.applies:
                if not particulars.get(name):
                    found.setdefault(name, []).append(checkpoint)
    return found


def prevented(checkpoint: CheckpointEntry, conditions: Collection[str]) -> tuple[str, ...]:
    """The present conditions that rule the checkpoint out.

    Raises ValueError for an unknown condition.
    """
    return _holding(checkpoint.prevented_by, conditions)


def hampered(checkpoint: CheckpointEntry, conditions: Collection[str]) -> tuple[str, ...]:
    """The present conditions in which a look at it is no better than a guess.

    Raises ValueError for an unknown condition.
    """
    return _holding(checkpoint.hampered_by, conditions)


def _holding(reasons: Sequence[str], conditions: Collection[str]) -> tuple[str, ...]:
    """The reasons among these conditions, in order."""
    hold = _with_implied(frozenset(conditions))
    return tuple(reason for reason in reasons if reason in hold)


@lru_cache(maxsize=256)
def _with_implied(conditions: frozenset[str]) -> frozenset[str]:
    if unknown := conditions - CONDITIONS.keys():
        raise ValueError(f"no such conditions: {', '.join(sorted(unknown))}")
    return conditions.union(*(IMPLIED.get(condition, ()) for condition in conditions))


def checklist(
    catalogue: Catalogue,
    *,
    particulars: Mapping[str, str | None],
    conditions: Collection[str],
) -> Checklist:
    """The checks on this boat in these conditions, possible and prevented, with the reasons.

    A check that may hurt somebody carries its cautions.
    """
    possible, not_possible = [], []
    for checkpoint in catalogue.checkpoints.values():
        if not applies(checkpoint, particulars):
            continue
        # A telephone call is possible wherever she lies.
        if checkpoint.place != "ask" and (reasons := prevented(checkpoint, conditions)):
            not_possible.append(PreventedCheck(checkpoint, reasons))
        else:
            cautions = tuple(catalogue.cautions[code] for code in checkpoint.cautions)
            guess = () if checkpoint.place == "ask" else hampered(checkpoint, conditions)
            possible.append(PossibleCheck(checkpoint, cautions, guess))
    return Checklist(tuple(possible), tuple(not_possible))
