"""What an answer warns of: not refused, but other than whoever asked may think."""

from typing import TypedDict


class Warned(TypedDict):
    """pointer: to the field to send, as a JSON pointer; empty if there is none."""

    code: str
    sentence: str
    pointer: str


def warned(code: str, sentence: str, pointer: str = "") -> Warned:
    return {"code": code, "sentence": sentence, "pointer": pointer}
