"""What an audit of the pinned packages says: nothing known is not the same as nothing wrong."""

import re

from server import audit

CLEAN = {"name": "keel", "version": "1.0", "vulns": []}
WEAK = {
    "name": "rudder",
    "version": "2.0",
    "vulns": [{"id": "EXAMPLE-1", "fix_versions": ["2.1"], "aliases": [], "description": ""}],
}
UNKNOWN = {"name": "tiller", "skip_reason": "Dependency not found"}


def verdict(*packages):
    return audit.verdict({"dependencies": list(packages), "fixes": []})


def test_it_works():
    assert verdict(CLEAN) == ("1 packages audited, 0 advisories", 0)


def test_an_advisory_fails_and_names_the_release_that_mends_it():
    text, status = verdict(CLEAN, WEAK)
    assert status == 1
    assert "rudder 2.0: EXAMPLE-1, mended in 2.1" in text


def test_one_that_was_accepted_does_not(monkeypatch):
    monkeypatch.setattr(audit, "ACCEPTED", {"EXAMPLE-1": "we do not steer with it"})
    assert verdict(WEAK)[1] == 0


def test_a_source_that_knows_no_package_is_no_audit():
    assert verdict(UNKNOWN)[0].startswith("NOT AUDITED")
    assert audit.verdict(None)[0].startswith("NOT AUDITED")
    assert "does not know them: tiller" in verdict(CLEAN, UNKNOWN)[0]


def test_all_that_is_served_is_looked_at():
    def pinned(name):
        lines = (audit.REQUIREMENTS.parent / name).read_text()
        return set(re.findall(r"^([\w.\-]+)(?:\[.*\])?==", lines, re.MULTILINE))

    assert pinned("requirements.txt") | pinned("requirements-s3.txt") <= pinned(
        audit.REQUIREMENTS.name
    )
