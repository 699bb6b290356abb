"""Known weaknesses of the pinned packages, by pip-audit (the Python Packaging Authority's).

`sh server/run audit` runs it. Where no source of advisories can be reached it says so and ends with
status 0, because nothing is known then; with status 1 if a pinned package has an advisory. What was
looked at and does not matter here is in ACCEPTED, with the reason.
"""

import json
import subprocess
import sys
import tempfile
from collections.abc import Mapping
from pathlib import Path
from typing import Any

REQUIREMENTS = Path(__file__).with_name("requirements-otel.txt")  # of all that is ever served
PATIENCE_SECONDS = 300
ACCEPTED: Mapping[str, str] = {}


def main() -> int:
    report, said = asked_of_all()
    text, status = verdict(report)
    print(text)
    if report is None:
        print(said)
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
        said = (done.stderr.strip().splitlines() or [""])[-1]
        return (json.loads(into.read_text()) if into.exists() else None), said


def verdict(report: Mapping[str, Any] | None) -> tuple[str, int]:
    """What the report says, and the exit status.

    A source that does not know a package says nothing about it, which pip-audit takes for no
    weakness.
    """
    packages = report["dependencies"] if report else []
    known = [package for package in packages if "vulns" in package]
    if not known:
        return "NOT AUDITED: no source of advisories can be reached from here.", 0
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


if __name__ == "__main__":
    sys.exit(main())
