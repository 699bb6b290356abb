"""Keeps the last results of slow functions in this process: readers often ask for the same."""

from collections.abc import Callable
from dataclasses import dataclass, field
from functools import lru_cache, wraps
from typing import Any, ParamSpec, TypeVar

from apps.common.digests import digest_of

P = ParamSpec("P")
Result = TypeVar("Result")

KEPT = 32  # for each function: a picture has some 30 KB, a printed report some 100


@dataclass(unsafe_hash=True)
class _Content:
    """A call with arguments. Calls are equal if the content of their arguments is."""

    digest: str
    call: Callable[[], Any] | None = field(compare=False, repr=False)

    def result(self) -> Any:
        """Called once; then it forgets the arguments, which take more memory than the result."""
        call, self.call = self.call, None
        assert call is not None
        return call()


def kept_by_content(make: Callable[P, Result]) -> Callable[P, Result]:
    """The function, called once for equal arguments as long as its result is among the last.

    Only for a function of values that JSON can hold and of nothing else (no settings, no clock),
    whose result nobody changes.
    """

    @lru_cache(KEPT)
    def result_of(content: _Content) -> Result:
        result: Result = content.result()
        return result

    @wraps(make)
    def kept(*args: P.args, **kwargs: P.kwargs) -> Result:
        return result_of(_Content(digest_of([args, kwargs]), lambda: make(*args, **kwargs)))

    return kept
