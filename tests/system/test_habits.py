"""Checks that repeated texts agree: settings, checks, commands, decisions."""

import ast
import json
import os
import re
import subprocess
import sys
from collections import defaultdict
from functools import cache
from pathlib import Path
from typing import Any

import pytest
import yaml
from django.conf import settings

from apps.events.subscriptions import INTERNAL, _handlers
from tests.conftest import ignored

ROOT = settings.BASE_DIR
EXAMPLE = (ROOT / ".env.example").read_text()
# Read by the shell and by the commands that start it, not by the service.
FOR_COMPOSE = {"PORT", "SITE", "SECRETS", "BACKUPS"}
SAID = """
import ast
import json
from server import settings
print(json.dumps({k: v for k, v in vars(settings).items() if k.isupper()}, default=repr))
"""


def example() -> dict[str, str]:
    found = re.findall(r"^#?([A-Z][A-Z0-9_]+)=(.*)$", EXAMPLE, re.MULTILINE)
    names = [name for name, _ in found]
    assert len(set(names)) == len(names)
    return {name: value.strip('"') for name, value in found}


def test_the_example_of_settings_names_every_setting_and_no_other():
    source = (ROOT / "server/settings.py").read_text()
    named = set(re.findall(r'\b(?:env\.\w+|secret)\(\s*"([A-Z0-9_]+)"', source))
    named |= {"REDIS_URL"} | {f"RATE_{name.upper()}" for name in settings.RATES}
    assert example().keys() == named | FOR_COMPOSE
    compose = (ROOT / "docker-compose.yml").read_text()
    assert set(re.findall(r"\$\{([A-Z0-9_]+)", compose)) <= example().keys()


@pytest.mark.parametrize("more", [{}, {"REDIS_URL": "redis://127.0.0.1/1", "SECRET_KEY": "x"}])
def test_its_values_are_the_defaults(more, tmp_path):
    """With the values written there, nothing changes, embedded or served."""
    given = {name: value for name, value in example().items() if value}
    plain = {k: v for k, v in os.environ.items() if k not in example()} | more
    plain["HARDSTAND_DATA_DIR"] = str(tmp_path)
    assert settings_with(plain | given) == settings_with(plain)


def settings_with(environment: dict[str, str]) -> dict[str, Any]:
    said = subprocess.run(
        [sys.executable, "-c", SAID],
        cwd=ROOT,
        env=environment,
        capture_output=True,
        text=True,
        check=True,
    ).stdout
    found: dict[str, Any] = json.loads(said)
    return found


def test_before_a_commit_runs_what_ci_checks():
    run = (ROOT / "server/run").read_text()
    checks = run.partition("<<'CHECKS'\n")[2].partition("CHECKS\n")[0].splitlines()
    (local,) = yaml.safe_load((ROOT / ".pre-commit-config.yaml").read_text())["repos"]
    assert local["repo"] == "local"
    assert [hook["entry"] for hook in local["hooks"]] == checks
    assert "sh server/run checks" in (ROOT / ".ci/run").read_text()


def test_ci_runs_the_tests_in_a_browser_with_the_suite(monkeypatch):
    assert "HARDSTAND_CI=1" in (ROOT / ".ci/run").read_text()
    monkeypatch.setenv("HARDSTAND_CI", "1")
    assert ignored() == []
    monkeypatch.delenv("HARDSTAND_CI")
    assert ignored() == ["browser"]


def test_without_a_command_all_are_listed():
    listed = subprocess.run(
        ["sh", "server/run"], cwd=ROOT, capture_output=True, text=True, check=True
    ).stdout
    source = (ROOT / "server/run").read_text()
    cases = re.findall(r"^    ([a-z]+)\)$", source, re.MULTILINE)
    assert cases == re.findall(r"sh server/run ([a-z]+)", listed)
    wrong = subprocess.run(["sh", "server/run", "nonsense"], cwd=ROOT, capture_output=True)
    assert wrong.returncode == 2


@pytest.mark.parametrize(
    ("optimised", "own_choice", "used"),
    [(True, "", "python3"), (False, "", "/usr/bin/python3"), (False, "mine", "mine")],
)
def test_the_environment_is_made_with_an_optimised_python(optimised, own_choice, used, tmp_path):
    """Where it is there: python3 stands in for one that says whether it was compiled so."""
    if not able("/usr/bin/python3"):
        used = used.replace("/usr/bin/python3", "python3")
    found = tmp_path / "python3"
    found.write_text(f"#!/bin/sh\nexit {0 if optimised else 1}\n")
    found.chmod(0o755)
    environment = os.environ | {
        "PATH": f"{tmp_path}:{os.environ['PATH']}",
        "HARDSTAND_PYTHON": own_choice,
    }
    named = subprocess.run(
        ["sh", "server/run", "python"], cwd=ROOT, env=environment, capture_output=True, text=True
    )
    assert named.stdout.strip() == used, named.stderr


def able(python: str) -> bool:
    """Whether it is new enough and can make environments with pip."""
    asked = [python, "-c", "import ensurepip, sys, venv; sys.exit(sys.version_info < (3, 11))"]
    return Path(python).exists() and subprocess.run(asked, capture_output=True).returncode == 0


APPS = sorted(path.parent.name for path in (ROOT / "apps").glob("*/__init__.py"))


@pytest.mark.parametrize("app", APPS)
def test_an_app_says_what_it_is_and_which_of_its_modules_others_use(app):
    said = ast.get_docstring(ast.parse((ROOT / "apps" / app / "__init__.py").read_text())) or ""
    assert len(said.splitlines()) >= 3, "what lives here, and what does not"
    surface = re.search(r"Others use:\s+([^.]*)\.$", said)
    named = set(re.findall(r"`([\w/]+)`", surface[1])) if surface else set()
    assert named == used_by_others(app)


@cache
def imported_by(path: Path) -> set[str]:
    return {
        f"{node.module}.{one.name}"
        for node in ast.walk(ast.parse(path.read_text()))
        if isinstance(node, ast.ImportFrom) and node.module
        for one in node.names
    }


def used_by_others(app: str) -> set[str]:
    """Modules and folders that another app imports, except those only for the API."""
    used = set()
    for path in (ROOT / "apps").rglob("*.py"):
        if path.relative_to(ROOT / "apps").parts[0] == app:
            continue
        used |= {under(app, name) for name in imported_by(path)}
    return used - {None, "api", "admin"}


def under(app: str, imported: str) -> str | None:
    """The module of the app, or the folder of modules, with this name."""
    first = imported.removeprefix(f"apps.{app}.").partition(".")[0]
    folder = ROOT / "apps" / app / first
    there = imported.startswith(f"apps.{app}.") and (
        folder.is_dir() or folder.with_suffix(".py").exists()
    )
    return first if there else None


DECISIONS = sorted((ROOT / "server/docs/decisions").glob("*.md"))
RECORD = re.compile(
    r"# (\d+)\. [^\n]+\n\nDate: \d{4}-\d\d-\d\d\n\n"
    r"## Context\n\n\S.*?\n\n## Decision\n\n\S.*?\n\n## Consequences\n\n\S.*\S\n",
    re.DOTALL,
)


def test_decisions_are_numbered_dated_and_whole():
    numbers = []
    for path in DECISIONS:
        record = RECORD.fullmatch(path.read_text())
        assert record, f"{path.name}: # N. title, Date, Context, Decision, Consequences"
        assert int(record[1]) == int(path.name[:4])
        numbers.append(int(record[1]))
    assert numbers == list(range(1, len(DECISIONS) + 1)), "each number once, without gaps"


def test_pages_of_the_guide_have_numbers_of_their_own():
    """Files are in the order of their names, so two of one number stand in no stated order."""
    for folder in ("guide", "operating"):
        numbers = [path.name[:2] for path in (ROOT / "server/docs" / folder).glob("*.md")]
        assert sorted(numbers) == sorted(set(numbers))
        assert all(number.isdecimal() for number in numbers)


def test_those_to_read_first_are_there_by_their_titles():
    source = (ROOT / "DEVELOPERS.md").read_text()
    first = re.findall(r"^- \[(\d+\. [^]]+)\]\((\S+)\)$", source, re.MULTILINE)
    assert len(first) == 10
    for title, path in first:
        assert (ROOT / path).read_text().startswith(f"# {title}\n")


SOURCES = {
    path: path.read_text()
    for path in (ROOT / "apps").rglob("*.py")
    if "migrations" not in path.parts
}
OTHER_WAYS = re.compile(r"\b(?:pre|post)_(?:save|delete|init)\b|\bm2m_changed\b|\bSignal\(")


def test_a_name_of_a_class_stands_for_one_thing():
    places = defaultdict(list)
    for path, source in SOURCES.items():
        for name in re.findall(r"^class ([A-Za-z]\w*)", source, re.MULTILINE):
            places[name].append(str(path))
    several = {name: where for name, where in places.items() if len(where) > 1}
    assert several.keys() <= {"Command", "Migration"}, several


def test_no_file_is_longer_than_a_reader_keeps_in_mind():
    """350 lines, and 60 for a function: what DEVELOPERS.md promises. Tables and migrations may."""
    long = {}
    for file in [*(ROOT / "apps").rglob("*.py"), *(ROOT / "server").rglob("*.py")]:
        source = file.read_text()
        if "migrations" in file.parts:
            continue
        long[str(file)] = (len(source.splitlines()), 350)
        for node in ast.walk(ast.parse(source)):
            if isinstance(node, ast.FunctionDef | ast.AsyncFunctionDef):
                lines = node.end_lineno - node.lineno + 1
                long[f"{file}: {node.name}"] = (lines, 60)
    assert {name: lines for name, (lines, most) in long.items() if lines > most} == {}


def test_no_folder_has_more_modules_than_a_reader_takes_in():
    """20, but for the reckoning, which is one subject."""
    folders = defaultdict(list)
    for path in SOURCES:
        if path.name != "__init__.py" and path.parent.name != "reckoning":
            folders[str(path.parent)].append(path.name)
    assert {folder for folder, names in folders.items() if len(names) > 20} == set()


def test_a_change_is_told_by_events_alone():
    """A receiver of a model's signal hears nothing of `.update()`; subscribe to events instead."""
    assert [str(path) for path, source in SOURCES.items() if OTHER_WAYS.search(source)] == []


def test_subscribers_name_kinds_that_somebody_records():
    """A subscriber to a misspelt kind would never be called."""
    recorded = "".join(
        source
        for path, source in SOURCES.items()
        if path.name not in ("subscribers.py", "subscriptions.py")
    )
    written = set(re.findall(r'f?"([\w.{}]+)"', recorded))
    made = {"club_member.changed", "club_member.left"}  # by what happened to a member
    kinds = {kind for kind, handlers in _handlers.items() if handlers}
    assert kinds
    assert kinds - written - made == set()
    assert kinds & INTERNAL.keys() == INTERNAL.keys(), "nobody subscribes to it"


def test_tests_run_with_what_is_served():
    """On each version of Python: a pin that tests lack would not be installed for them."""
    served, tested = (
        {line for line in (ROOT / "server" / name).read_text().splitlines() if "==" in line}
        for name in ("requirements.txt", "requirements-dev.txt")
    )
    assert served - tested == set()
