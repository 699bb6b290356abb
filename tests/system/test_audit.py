"""What an audit of the pinned packages says: nothing known is not the same as nothing wrong."""

import tomllib

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
    assert "stored list of 2" in audit.verdict(None)[0]
    assert "does not know them: tiller" in verdict(CLEAN, UNKNOWN)[0]


def test_without_a_source_the_stored_list_fails_a_pin_that_is_too_old(monkeypatch, tmp_path):
    old = tmp_path / "requirements.txt"
    old.write_text(
        "urllib3==2.7.0 \\\n    --hash=sha256:00\npillow==13.0.0 ; python_version > '3'\n"
    )
    monkeypatch.setattr(audit, "REQUIREMENTS", old)
    text, status = audit.verdict(None)
    assert status == 1
    assert "urllib3 2.7.0: CVE-2026-97687" in text
    assert "pillow 13" not in text
    assert "PYSEC-2026-141" not in text  # mended in 2.7.0 itself


def test_the_stored_list_is_compared_by_figures_and_not_by_letters():
    advisory = {"package": "keel", "ids": ["EXAMPLE-1"], "what": "", "fixed_in": "2.10"}
    for version, count in {"2.9.9": 1, "2.10": 0, "2.10.0": 0, "2.10.post1": 0, "3": 0}.items():
        assert len(list(audit.stored_faults({"keel": {version}}, [advisory]))) == count, version


def test_what_the_stored_list_names_is_pinned():
    pins = audit.pinned(audit.REQUIREMENTS.read_text())
    listed = tomllib.loads(audit.STORED.read_text())["advisory"]
    assert {advisory["package"] for advisory in listed} <= pins.keys()


def test_all_that_is_served_is_looked_at():
    def packages(name):
        return audit.pinned((audit.REQUIREMENTS.parent / name).read_text()).keys()

    assert packages("requirements.txt") | packages("requirements-s3.txt") <= packages(
        audit.REQUIREMENTS.name
    )
