"""Stored results as one reader may see them, with names and sentences.

`compute.seen` chooses which results those are.
"""

import uuid
from typing import Any

from apps.accounts.models import Person
from apps.appraisal.board.answer import BoardBody, board_body
from apps.appraisal.compute.seen import board_seen, ready_seen
from apps.appraisal.envelope import ENVELOPE, AnswerHead, envelope
from apps.appraisal.jobs import Of
from apps.appraisal.reading import Reading
from apps.appraisal.ready import as_json, filled, joined
from apps.appraisal.stored import StoredValue
from apps.common.shapes import IdAndName


class BoardHead(AnswerHead):
    list: IdAndName
    currency: str


class Board(BoardHead, BoardBody):
    pass


def board_read(person: Person, list_id: uuid.UUID, wait: float = 0) -> Board:
    """The list's order with its reasons. Seven queries at any size."""
    return board_of(Reading.of_list(person, list_id, Of.BOARD, wait))


def board_of(reading: Reading) -> Board:
    seen = board_seen(reading.reader, reading.list_id)
    head = board_head(reading.at(seen.appraisal), seen.read)
    return {**head, **board_body(seen.results, reading.names)}


def board_answer(reading: Reading) -> bytes:
    """The same as it is sent."""
    ready = ready_seen(reading.reader, reading.appraisal, Of.BOARD)
    if ready is None:
        return as_json(board_of(reading)).encode()
    return joined(board_head(reading, StoredValue()), filled(ready.body, reading.names))


def board_head(reading: Reading, read: StoredValue[Any]) -> BoardHead:
    candidate_list = reading.candidate_list
    return {
        **envelope(reading, Of.BOARD, read),
        "list": {"id": str(candidate_list.pk), "name": candidate_list.name},
        "currency": candidate_list.currency,
    }


def order_of(reading: Reading) -> dict[str, object]:
    """The buyers' orders and the votes alone."""
    board = board_of(reading)
    shown = (*ENVELOPE, "list", "members", "votes")
    return {key: value for key, value in board.items() if key in shown}
