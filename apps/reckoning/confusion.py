"""Free confusion matrices: the second grader model.

Each grader has a matrix of its own, P(report k | true label t), not shaped by lean or spread:
Dawid & Skene (1979), Maximum likelihood estimation of observer error-rates using the EM algorithm,
Applied Statistics 28(1), 20-28. It needs far more reports a grader than `graders` does, so it
serves as a check on that model and on the loop they share, and for labels without an order.
"""

from dataclasses import dataclass

import numpy as np
import scipy  # its parts are loaded on first use

from apps.reckoning.arrays import Floats, Ints
from apps.reckoning.convergence import ascend
from apps.reckoning.estimates import within
from apps.reckoning.tally import Tally


@dataclass(frozen=True, slots=True, eq=False)
class Confusion:
    """The fitted model, for I items, R graders and T labels.

    item: (I, T), P(true label | reports). marginals: (T,), share of each true label. rates:
    (R, T, T), P(report k | true t) indexed r, t, k; each (r, t) sums to 1. bound: (rounds,),
    log-likelihood in nats after each round, never decreasing without smoothing.
    """

    item: Floats
    marginals: Floats
    rates: Floats
    rounds: int
    converged: bool
    bound: Floats

    @property
    def log_likelihood(self) -> float:
        return float(self.bound[-1])


def fit_confusion(
    item: Ints,
    grader: Ints,
    label: Ints,
    *,
    labels: int,
    smoothing: float = 0.0,
    tolerance: float = 1e-9,
    max_rounds: int = 2000,
) -> Confusion:
    """Fit by EM from the paper's start: each item's share of reports for each label.

    item, grader, label: (N,), one entry a report, counted from 0; a grader may report on an item
    more than once. smoothing: reports added to every entry of every confusion matrix; 0 is the
    paper's maximum likelihood. The likelihood has several maxima; the start decides which one the
    fit reaches.

    Stops when no probability moved by more than `tolerance`. Raises ValueError for arrays of
    different lengths, a label out of range, or an item without any report.
    """
    if not len(item) == len(grader) == len(label):
        raise ValueError("item, grader, label: need one value each a report")
    if np.any((label < 0) | (label >= labels)):
        raise ValueError(f"label: must be from 0 to {labels - 1}")
    items, graders = (int(index.max(initial=-1)) + 1 for index in (item, grader))
    votes = np.bincount(item * labels + label, minlength=items * labels).reshape(items, labels)
    if not np.all(votes.any(axis=1)):
        raise ValueError(f"item: {int(np.argmin(votes.any(axis=1)))} has no report")
    tally = Tally.of(cell=item, code=grader * labels + label, cells=items, codes=graders * labels)

    def improve(previous: "_Round") -> "_Round":
        """Maximise marginals and rates for the item probabilities, then weigh the items again."""
        counts = tally.expected_counts(previous.item).reshape(graders, labels, labels)
        rates = _normalised(counts + smoothing, axis=1)
        marginals = previous.item.mean(axis=1)
        with np.errstate(divide="ignore"):  # an error never made has rate 0 and log -inf
            table = np.log(rates).reshape(graders * labels, labels)
            log_joint = np.log(marginals)[:, None] + tally.evidence(table)
        log_evidence = scipy.special.logsumexp(log_joint, axis=0)
        item_probability = np.exp(log_joint - log_evidence)
        return _Round(item_probability, marginals, rates, float(log_evidence.sum()))

    shares = np.ascontiguousarray(_normalised(votes.astype(np.float64), axis=1).T)
    start = _Round(shares, shares.mean(axis=1), np.empty((graders, labels, labels)), -np.inf)
    ascent = ascend(improve(start), improve, tolerance=tolerance, max_rounds=max_rounds)
    last = ascent.state
    return Confusion(
        item=last.item.T,
        marginals=last.marginals,
        rates=last.rates.swapaxes(1, 2),
        rounds=ascent.rounds,
        converged=ascent.converged,
        bound=ascent.bound,
    )


@dataclass(frozen=True, slots=True, eq=False)
class _Round:
    """item: (T, I). marginals: (T,). rates: (R, k, t). bound: log-likelihood in nats."""

    item: Floats
    marginals: Floats
    rates: Floats
    bound: float

    def settled(self, previous: "_Round", tolerance: float, /) -> bool:
        return within(self.item - previous.item, tolerance)


def _normalised(counts: Floats, *, axis: int) -> Floats:
    """Counts as shares along an axis; even shares where nothing was counted."""
    total = counts.sum(axis=axis, keepdims=True)
    even = 1.0 / counts.shape[axis]
    return np.where(total > 0, counts / np.where(total > 0, total, 1.0), even)
