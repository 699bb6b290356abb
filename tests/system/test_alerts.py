"""The alert rules name figures that exist, come when they should, and each says what to do.

promtool (Prometheus's own) checks them where it is installed: PROMTOOL or the path.
"""

import os
import re
import shutil
import subprocess
from typing import Any

import pytest
import yaml
from django.conf import settings
from django.urls import resolve

FOLDER = settings.BASE_DIR / "server/watch"
PAGE = (settings.BASE_DIR / "server/docs/operating/07-alerts.md").read_text()


def rules_of(file: str) -> list[dict[str, Any]]:
    groups = yaml.safe_load((FOLDER / file).read_text())["groups"]
    return [rule for group in groups for rule in group["rules"]]


RULES, FIGURES = rules_of("alerts.yml"), rules_of("figures.yml")
PROMTOOL = os.environ.get("PROMTOOL") or shutil.which("promtool")


@pytest.mark.parametrize("rule", RULES, ids=lambda rule: rule["alert"])
def test_each_alert_says_what_to_do(rule):
    assert rule["annotations"]["summary"].endswith(".")
    assert rule["labels"]["severity"] in ("page", "look")
    section = PAGE.partition(f"\n### {rule['alert']}\n")[2].partition("\n### ")[0]
    assert len(section.strip()) > 50


def test_the_page_is_about_no_other_alert():
    assert re.findall(r"^### (\w+)$", PAGE, re.MULTILINE) == [rule["alert"] for rule in RULES]


def test_each_recorded_figure_is_explained():
    rows = re.findall(r"^\| `(hardstand:[\w:]+)` \|", PAGE, re.MULTILINE)
    assert rows == [rule["record"] for rule in FIGURES]


def test_each_reason_of_the_health_check_is_explained():
    source = (settings.BASE_DIR / "server/health.py").read_text()
    codes = re.findall(r'yield f?"(\w+?)(?:\{queue\})?"', source)
    assert len(codes) == 5
    for code in codes:
        assert f"`{code}" in PAGE


def test_they_name_figures_that_exist(db):
    metrics = pytest.importorskip("server.metrics")
    metrics.pool_size.labels("asked_for").set(0)
    metrics.seconds.labels(resolve("/health/live").route).observe(0)
    metrics.requests.labels("health/live", "GET", 200).inc(0)
    text = metrics.generate_latest(metrics.counted()) + metrics.generate_latest(
        metrics.work_figures()
    )
    for rule in [*RULES, *FIGURES]:
        for name in re.findall(r"hardstand_\w+", rule["expr"]):
            assert re.search(rf"^{name}[ {{]", text.decode(), re.MULTILINE), name


@pytest.mark.skipif(not PROMTOOL, reason="needs promtool")
@pytest.mark.parametrize(
    "check", [("check", "alerts.yml"), ("check", "figures.yml"), ("test", "alerts_test.yml")]
)
def test_prometheus_takes_them(check):
    what, file = check
    done = subprocess.run(
        [PROMTOOL, what, "rules", file], cwd=FOLDER, capture_output=True, text=True
    )
    assert done.returncode == 0, done.stdout + done.stderr
