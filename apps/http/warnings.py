"""Warnings of answers: problems that do not refuse the request but affect the answer."""

from typing import TypedDict


class Warned(TypedDict):
    """A warning. pointer: JSON pointer to the field to send; empty if there is none."""

    code: str
    sentence: str
    pointer: str


def warned(code: str, sentence: str, pointer: str = "") -> Warned:
    return {"code": code, "sentence": sentence, "pointer": pointer}
