"""Known weaknesses of the pinned packages, by pip-audit (the Python Packaging Authority's).

`sh server/run audit` runs it. Where no source of advisories can be reached it says so, and compares
the pins with the stored list (`advisories.toml`). It ends with status 1 if a pinned package has an
advisory. What was looked at and does not matter here is in ACCEPTED, with the reason.
"""

import json
import re
import subprocess
import sys
import tempfile
import tomllib
from collections.abc import Iterator, Mapping
from pathlib import Path
from typing import Any

REQUIREMENTS = Path(__file__).with_name("requirements-otel.txt")  # of all that is ever served
STORED = Path(__file__).with_name("advisories.toml")
PATIENCE_SECONDS = 300
ACCEPTED: Mapping[str, str] = {}


def main() -> int:
    report, last_line = asked_of_all()
    text, status = verdict(report)
    print(text)
    if report is None:
        print(last_line)
    return status


def asked_of_all() -> tuple[dict[str, Any] | None, str]:
    """pip-audit's report, if it came to one, and the last thing that it said."""
    with tempfile.TemporaryDirectory() as folder:
        into = Path(folder) / "report.json"
        command = [sys.executable, "-m", "pip_audit", "--requirement", str(REQUIREMENTS)]
        options = ["--disable-pip", "--require-hashes", "--format=json", f"--output={into}"]
        try:
            done = subprocess.run(  # noqa: S603 - nothing of it comes from outside
                [*command, *options], capture_output=True, text=True, timeout=PATIENCE_SECONDS
            )
        except subprocess.TimeoutExpired:
            return None, "It took too long."
        last_line = (done.stderr.strip().splitlines() or [""])[-1]
        return (json.loads(into.read_text()) if into.exists() else None), last_line


def verdict(report: Mapping[str, Any] | None) -> tuple[str, int]:
    """What the report says, and the exit status.

    A source that does not know a package says nothing about it, which pip-audit takes for no
    weakness.
    """
    packages = report["dependencies"] if report else []
    known = [package for package in packages if "vulns" in package]
    if not known:
        return _by_stored_list()
    found = [
        f"{package['name']} {package['version']}: {one['id']}, mended in "
        f"{', '.join(one['fix_versions']) or 'no release yet'}"
        for package in known
        for one in package["vulns"]
        if one["id"] not in ACCEPTED
    ]
    unknown = [package["name"] for package in packages if "vulns" not in package]
    lines = [f"{len(known)} packages audited, {len(found)} advisories", *found]
    if unknown:
        lines.append(f"NOT AUDITED, because the source does not know them: {', '.join(unknown)}")
    return "\n".join(lines), int(bool(found))


def _by_stored_list() -> tuple[str, int]:
    stored = tomllib.loads(STORED.read_text())
    found = list(stored_faults(pinned(REQUIREMENTS.read_text()), stored["advisory"]))
    lines = [
        "NOT AUDITED: no source of advisories can be reached from here. Compared with the stored "
        f"list of {stored['read_on']}: {len(stored['advisory'])} advisories, {len(found)} apply",
        *found,
    ]
    return "\n".join(lines), int(bool(found))


def stored_faults(
    pins: Mapping[str, set[str]], advisories: list[Mapping[str, Any]]
) -> Iterator[str]:
    """A line for each pin that is older than the release that mends an advisory."""
    for advisory in advisories:
        if not ACCEPTED.keys() & set(advisory["ids"]):
            for version in sorted(pins.get(advisory["package"], ())):
                if _figures(version) < _figures(advisory["fixed_in"]):
                    names = ", ".join(advisory["ids"]) or "several advisories"
                    yield (
                        f"{advisory['package']} {version}: {names}: {advisory['what']} "
                        f"Mended in {advisory['fixed_in']}"
                    )


def pinned(requirements: str) -> dict[str, set[str]]:
    """By package: the versions pinned. There are several where Python's version decides."""
    versions: dict[str, set[str]] = {}
    for name, version in re.findall(
        r"^([\w.\-]+)(?:\[.*\])?==([^\s;\\]+)", requirements, re.MULTILINE
    ):
        versions.setdefault(name.lower(), set()).add(version)
    return versions


def _figures(version: str) -> tuple[int, ...]:
    """The release part of a version: pins are releases, so it decides."""
    return tuple(int(figure) for figure in re.findall(r"\d+", version.split("post")[0]))


if __name__ == "__main__":
    sys.exit(main())
