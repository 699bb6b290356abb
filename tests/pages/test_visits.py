"""The pages of visits, and the checklist on a phone."""

import gzip
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest
from django.conf import settings
from django.utils import timezone

from apps.boats.yards.models import Yard
from apps.catalogue.services import catalogue_load
from apps.pages.visits import look
from apps.pages.visits.looking import AT_REST
from apps.viewings.conditions import CONDITIONS, UNDER_WAY
from apps.viewings.models import Viewing
from tests.appraisal import building
from tests.pages.browser import Browser, inline_in
from tests.pages.test_every_page import queries_of
from tests.viewings.conftest import look as look_at

STATIC = Path("apps/pages/static")


@pytest.fixture
def visit(scene) -> Viewing:
    planned = scene.visit(starts_at=timezone.now(), state="planned", covered=True, light="poor")
    planned.people.add(scene.cast.ben.person)
    return planned


def day_of(who, visit) -> dict:
    return Browser(who).get(f"/visits/{visit.pk}/day").json()


def test_a_visit_says_who_goes_and_what_is_expected(scene, visit):
    page = Browser(scene.cast.ben).get(f"/visits/{visit.pk}").content.decode()
    assert "A tight cover is on" in page
    assert f'href="/visits/{visit.pk}/look"' in page
    assert f"/api/v1/viewings/{visit.pk}/day-sheet.pdf" in page


def test_a_form_plans_a_visit_and_another_changes_it(scene):
    ben = Browser(scene.cast.ben)
    page = ben.get(f"/boats/{scene.heron.pk}/visits/new").content.decode()
    assert f'data-api="POST /candidates/{scene.heron.pk}/viewings"' in page
    for name in CONDITIONS:
        assert (f'name="conditions.{name}"' in page) is (name not in UNDER_WAY)


def test_a_sea_trial_has_its_cautions_its_questions_and_its_own_checks(scene):
    catalogue_load(folder=settings.BASE_DIR / "fixtures" / "catalogue")
    ben = Browser(scene.cast.ben)
    form = ben.get(f"/boats/{scene.heron.pk}/visits/new?kind=sea_trial").content.decode()
    assert 'name="kind" value="sea_trial"' in form
    assert "Under way on a stranger" in form
    for sentence in ("Lifejacket on before you cast off;", "Turn back if water gains,"):
        assert f"<li>{sentence}" in form
    for name in CONDITIONS:
        assert (f'name="conditions.{name}"' in form) is (name not in AT_REST)
    trial = scene.visit(kind="sea_trial", where="afloat", wind=4, starts_at=timezone.now())
    page = ben.get(f"/visits/{trial.pk}").content.decode()
    assert "Sea trial of Heron" in page
    assert page.index("Under way on a stranger") < page.index("Start the look")
    assert "4: moderate breeze" in page
    (taken,) = day_of(scene.cast.ben, trial)["visits"]
    assert [one["code"] for one in taken["cautions"]] == ["under-way"]
    assert taken["places"][-1]["place"] == "under_way"
    assert "gearbox-under-way" in taken["open"]
    questions = {one["name"]: one for one in taken["words"]["conditions"]}
    assert AT_REST[0] not in questions
    assert questions["wind"]["answers"][2] == {
        "value": 2,
        "name": "2: light breeze",
        "brings": ["light_wind"],
    }
    boat = ben.get(f"/boats/{scene.heron.pk}").content.decode()
    assert "sea trial, made" in boat
    assert f"/boats/{scene.heron.pk}/visits/new?kind=sea_trial" in boat


def test_whoever_only_watches_is_not_asked_to_look(scene, visit):
    page = Browser(scene.cast.ivy).get(f"/visits/{visit.pk}").content.decode()
    assert "Start the look" not in page
    assert not day_of(scene.cast.ivy, visit)["visits"][0]["may"]["look"]


def test_a_day_holds_every_check_with_its_words_and_what_rules_it_out(scene, visit):
    (taken,) = day_of(scene.cast.ben, visit)["visits"]
    checks = [check for part in taken["places"] for check in part["checks"]]
    assert checks
    assert all(len(check["levels"]) == 5 for check in checks)
    ruled_out = {check["code"] for check in checks if "poor_light" in check["prevented_by"]}
    assert ruled_out == {"terminals"}
    for codes in taken["first"].values():
        assert ruled_out.isdisjoint(codes)
    questions = {one["name"]: one for one in taken["words"]["conditions"]}
    assert {*questions, *UNDER_WAY} == set(CONDITIONS)
    (away,) = [a for a in questions["mast_state"]["answers"] if a["value"] == "elsewhere"]
    assert away["brings"] == ["mast_elsewhere", "mast_down"]
    (off,) = [a for a in questions["batteries_connected"]["answers"] if a["brings"]]
    assert (off["value"], off["brings"]) == (False, ["batteries_off"])


def test_a_day_is_my_visits_of_that_day_and_no_others(scene, visit):
    for days, who, state in ((0, "ben", "planned"), (0, "hal", "planned"), (2, "ben", "planned"),
                             (0, "ben", "called_off")):  # fmt: skip
        other = scene.visit(starts_at=visit.starts_at + timedelta(days=days), state=state)
        other.people.add(getattr(scene.cast, who).person)
    assert len(day_of(scene.cast.ben, visit)["visits"]) == 2


def test_a_day_is_that_of_the_yard_where_it_is_known(scene, visit):
    """It is Sunday in the yard already, and Saturday on the reader's clock, which is UTC."""
    visit.starts_at = datetime(2026, 4, 11, 23, tzinfo=UTC)
    visit.save()
    afternoon = visit.starts_at + timedelta(hours=7)
    scene.visit(starts_at=afternoon, state="planned").people.add(scene.cast.ben.person)
    assert len(day_of(scene.cast.ben, visit)["visits"]) == 1
    scene.heron.at_yard = Yard.objects.create(
        group=scene.cast.group, name="East", latitude=35.3, longitude=139.5, time_zone="Asia/Tokyo"
    )
    scene.heron.save()
    assert len(day_of(scene.cast.ben, visit)["visits"]) == 2


def test_a_day_says_nothing_of_what_others_found(scene, visit):
    before = day_of(scene.cast.hal, visit)["visits"]
    scene.posted(scene.cast.ben, look_at("terminals", 4, note="Broken wires"), viewing=visit)
    assert day_of(scene.cast.hal, visit)["visits"] == before


def test_the_pages_of_the_look_are_the_same_for_everybody(scene, visit):
    for path in (f"/visits/{visit.pk}/look", "/outbox"):
        nobody, ben = (Browser(who).get(path) for who in (None, scene.cast.ben))
        assert nobody.status_code == 200
        assert nobody.content == ben.content
        assert inline_in(ben.content.decode()) == []


def test_the_worker_keeps_all_scripts_and_changes_with_them(db, monkeypatch):
    answer = Browser().get("/sw.js")
    assert answer["Content-Type"] == "text/javascript"
    files = look.shell_files()
    assert "pages/look/app.js" in files
    assert "pages/sw.js" not in files
    version = look.version_of.__wrapped__(files)
    assert version in answer.content.decode()
    text_of = look.files_text
    monkeypatch.setattr(look, "files_text", lambda name: text_of(name) + "// another")
    assert look.version_of.__wrapped__(files) != version


def test_all_scripts_together_stay_small():
    """Compressed each by itself, as they are sent."""
    scripts = [path for path in STATIC.rglob("*.js") if "vendor" not in path.parts]
    vendored = list(STATIC.rglob("vendor/*.js"))
    assert len(vendored) == 2
    size = sum(len(gzip.compress(path.read_bytes(), 6)) for path in [*scripts, *vendored])
    assert size < 80_000, size


def test_a_kept_day_of_six_boats_is_under_3_mb_without_photos(cast):
    """With the real catalogue: what the phone's store holds, and the pages and files beside it."""
    building.load_catalogue()
    yard = building.Yard.of(cast.group, cast.ola.person)
    visits = [
        Viewing.objects.create(
            candidate=yard.boat(f"Tern {n}"), starts_at=timezone.now(), added_by=cast.ola.person
        )
        for n in range(6)
    ]
    for one in visits:
        one.people.add(cast.ben.person)
    ben = Browser(cast.ben)
    taken = ben.get(f"/visits/{visits[0].pk}/day")
    assert len(taken.json()["visits"]) == 6
    pages = [
        f"/{beside}/{one.pk}{sheet}"
        for one in visits
        for beside, sheet in (("visits", ""), ("api/v1/viewings", "/day-sheet.html"))
    ]
    kept = [taken, *(ben.get(at) for at in [*pages, "/outbox", f"/visits/{visits[0].pk}/look"])]
    assert {answer.status_code for answer in kept} == {200}
    size = sum(len(answer.content) for answer in kept)
    size += sum(len(look.files_text(name).encode()) for name in look.shell_files())
    assert size < 3_000_000, size


def test_a_days_queries_do_not_grow_with_what_was_found(scene, visit):
    ben = Browser(scene.cast.ben)
    at = f"/visits/{visit.pk}/day"
    one = queries_of(ben, at)
    scene.posted(scene.cast.ben, look_at("terminals", 1), viewing=visit)
    assert queries_of(ben, at) == one
