"""Questions to a seller that stand with no checkpoint."""

from dataclasses import dataclass, field
from typing import Annotated

from apps.catalogue.content import Code, Particulars
from apps.catalogue.fields import Entry, meaning, text


@dataclass(frozen=True, kw_only=True)
class QuestionEntry(Entry):
    """A question to the seller that no checkpoint asks, such as whether one may board her."""

    code: Code
    ask: Annotated[str, text(300)]
    why: Annotated[str, text(300), meaning("what an answer saves or decides")]
    applies: Annotated[
        Particulars, meaning("the values that each of these particulars may have")
    ] = field(default_factory=dict)
