"""The chain of digests against values that were made with other programs.

SHA-256 of "abc": FIPS 180-4, and the examples of NIST for it. The other values were made by hand
with `printf` and `sha256sum` (GNU coreutils), the second of each pair also with `openssl dgst`.
"""

from apps.common.hash_chain import chained, first_break, text_digest

ONE, TWO = '{"number":1}', '{"number":2}'
# printf '%s' "$TEXT" | sha256sum
DIGEST_OF_ONE = "3d6a916e86efba9105154ea95dda8d8da47df173d931c23e7a346c7babd81a3e"
DIGEST_OF_TWO = "d65dc375f554b634c774bcc6f8a2ce6e23f41d2641c9b19453755d3dc8546f01"
# printf '%s\n%s' "$BEFORE" "$DIGEST" | sha256sum, with nothing before the first
CHAINED_ONE = "b7e3bb74444ee593650ee8a209172e807c8f3d9ec9d910eb0927ff4344253310"
CHAINED_TWO = "ba908df9b145b2511da9947519c0aa7f982ccd20afb89be5bd4092d53d97b48f"
# The same over the texts themselves, as in a ledger.
TEXT_ONE = "a7bb6c672c2fa17e905f47c384a49b72edce8bfc0b8d9e06ed3284d2877fb67a"
TEXT_TWO = "06422c789cbdee240a161db7b688904f4d1c66240c2f74981c542253940924e9"


def test_the_example_of_the_standard():
    expected = "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad"
    assert text_digest("abc") == expected


def test_a_chain_of_digests_made_by_hand():
    assert (text_digest(ONE), text_digest(TWO)) == (DIGEST_OF_ONE, DIGEST_OF_TWO)
    assert chained("", DIGEST_OF_ONE) == CHAINED_ONE
    assert chained(CHAINED_ONE, DIGEST_OF_TWO) == CHAINED_TWO
    chain = [(DIGEST_OF_ONE, CHAINED_ONE), (DIGEST_OF_TWO, CHAINED_TWO)]
    assert first_break(chain) is None
    assert first_break(chain[::-1]) == 0
    assert first_break(chain[1:]) == 0
    assert first_break([chain[0], (DIGEST_OF_ONE, CHAINED_TWO)]) == 1


def test_a_chain_of_texts_made_by_hand():
    assert chained("", ONE) == TEXT_ONE
    assert chained(TEXT_ONE, TWO) == TEXT_TWO
