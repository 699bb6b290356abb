"""Which representation an answer has (RFC 9110 section 12.5.1)."""

import pytest


@pytest.mark.parametrize(
    ("accept", "status"),
    [
        (None, 200),
        ("*/*", 200),
        ("application/json", 200),
        ("application/*;q=0.5, text/html", 200),
        ("text/html, */*;q=0.1", 200),
        ("text/html", 406),
    ],
)
def test_json_is_sent_to_whoever_accepts_it(cast, accept, status):
    headers = {} if accept is None else {"Accept": accept}
    answer = cast.ola.get("/groups", **headers)
    assert answer.status_code == status
    if status == 200:
        assert answer["Content-Type"] == "application/json"
