"""Loading: changed entries get a version, removed ones are retired, all or nothing is loaded."""

import io

import pytest
from django.apps import apps
from django.conf import settings
from django.core.management import CommandError, call_command
from django.db import IntegrityError, connection, transaction
from django.db.models import CharField
from django.test.utils import CaptureQueriesContext

from apps.catalogue import cost_models, models, services
from apps.catalogue.reading import CatalogueInvalid, read_catalogue
from apps.catalogue.selectors import catalogue_snapshot
from apps.catalogue.services import catalogue_load
from apps.common.errors import Conflict
from tests.catalogue.real import REAL

pytestmark = pytest.mark.django_db

KEEL = "checkpoints/keel.toml"


def versions(code: str) -> list[tuple[int, float]]:
    stored = models.CheckpointVersion.objects.filter(checkpoint=code).order_by("number")
    return list(stored.values_list("number", "weight"))


def test_it_works(files):
    loaded = catalogue_load(folder=files.folder)
    assert (loaded.edition.number, loaded.is_new) == (1, True)
    assert set(loaded.renewed) == {"joint", "iron", "mainsail", "reseal", "rebed", "new-main"}
    snapshot = catalogue_snapshot()
    assert snapshot.edition == 1
    assert snapshot.catalogue == read_catalogue(files.folder)
    assert list(snapshot.catalogue.checkpoints) == ["joint", "iron", "mainsail"]
    joint = models.CheckpointVersion.objects.get(pk=snapshot.checkpoint_version_ids["joint"])
    assert (joint.checkpoint_id, joint.number) == ("joint", 1)


def test_every_text_of_the_catalogue_fits_its_column():
    """SQLite does not hold texts to the length of their column; PostgreSQL does."""
    catalogue_load(folder=settings.BASE_DIR / "fixtures" / "catalogue")
    too_long = [
        (field.model.__name__, field.name, value)
        for model in apps.get_app_config("catalogue").get_models()
        for field in model._meta.concrete_fields
        if isinstance(field, CharField)
        for value in model.objects.values_list(field.name, flat=True).distinct()
        if len(value or "") > field.max_length
    ]
    assert too_long == []


def test_unchanged_files_change_nothing(files):
    first = catalogue_load(folder=files.folder)
    again = catalogue_load(folder=files.folder)
    assert (again.edition, again.is_new, again.renewed) == (first.edition, False, [])
    assert models.Edition.objects.count() == 1
    assert versions("joint") == [(1, 4.5)]


def test_a_changed_checkpoint_gets_a_version_and_the_old_one_stays(files):
    catalogue_load(folder=files.folder)
    files.change(KEEL, "weight = 4.5", "weight = 5")
    loaded = catalogue_load(folder=files.folder)
    assert (loaded.edition.number, loaded.renewed) == (2, ["joint"])
    assert versions("joint") == [(1, 4.5), (2, 5.0)]
    assert versions("iron") == [(1, 1.0)]
    assert catalogue_snapshot().catalogue == read_catalogue(files.folder)


def test_the_order_of_codes_is_no_change(files):
    files.change("cautions.toml", "[[caution]]", LADDERS + "[[caution]]")
    files.change(KEEL, '["stands"]', '["stands", "ladders"]')
    catalogue_load(folder=files.folder)
    files.change(KEEL, '["stands", "ladders"]', '["ladders", "stands"]')
    assert not catalogue_load(folder=files.folder).is_new


LADDERS = """
[[caution]]
code = "ladders"
title = "Ladders"
text = "Tie it."
defer_to = "the yard"

"""


def test_a_removed_checkpoint_is_retired_and_comes_back_as_it_was(files):
    catalogue_load(folder=files.folder)
    kept = (files.folder / KEEL).read_text()
    files.without_checkpoint(KEEL, "iron")
    assert catalogue_load(folder=files.folder).retired == ["iron"]
    assert "iron" not in catalogue_snapshot().catalogue.checkpoints
    assert versions("iron") == [(1, 1.0)], "findings made against it keep it"
    files.write(KEEL, kept)
    assert catalogue_load(folder=files.folder).renewed == ["iron"]
    assert versions("iron") == [(1, 1.0)]
    assert models.Edition.objects.count() == 3


def test_going_back_to_earlier_words_is_a_new_version(files):
    for weight, before in ((4.5, 4.5), (5, 4.5), (4.5, 5)):
        files.change(KEEL, f"weight = {before}", f"weight = {weight}")
        catalogue_load(folder=files.folder)
    assert versions("joint") == [(1, 4.5), (2, 5.0), (3, 4.5)]


def test_the_same_figures_in_other_money_are_other_prices(files):
    catalogue_load(folder=files.folder)
    files.change("remedies.toml", '"USD"', '"EUR"')
    loaded = catalogue_load(folder=files.folder)
    assert sorted(loaded.renewed) == ["new-main", "rebed", "reseal"]
    old, new = models.RemedyVersion.objects.filter(remedy="rebed").order_by("number")
    assert (old.edition.currency, new.edition.currency) == ("USD", "EUR")


def test_words_that_are_not_versioned_are_replaced_and_retired(files):
    catalogue_load(folder=files.folder)
    files.change("cautions.toml", "Never touch a stand.", "Stay away from stands.")
    files.change("purchase.toml", '"survey"', '"full-survey"')
    loaded = catalogue_load(folder=files.folder)
    assert loaded.renewed == []
    assert models.Caution.objects.get().text == "Stay away from stands."
    assert catalogue_snapshot().catalogue == read_catalogue(files.folder)
    assert cost_models.Fee.objects.get(code="survey").retired


def test_a_fault_in_one_file_leaves_everything_as_it_was(files):
    catalogue_load(folder=files.folder)
    files.change(KEEL, "weight = 4.5", "weight = 5")
    files.change("scales.toml", "[0.2, 1, 2, 5]", "[0.2, 1, 2]")
    with pytest.raises(CatalogueInvalid):
        catalogue_load(folder=files.folder)
    assert versions("joint") == [(1, 4.5)]


def test_a_load_that_breaks_halfway_is_undone(files, monkeypatch):
    def broken(*_):
        raise RuntimeError("the machine stopped")

    catalogue_load(folder=files.folder)
    files.change("cautions.toml", "Never touch a stand.", "Stay away from stands.")
    files.change("remedies.toml", "[30, 50, 90]", "[30, 60, 90]")
    monkeypatch.setattr(services, "keep_checkpoints", broken)
    with pytest.raises(RuntimeError):
        catalogue_load(folder=files.folder)
    assert models.Edition.objects.count() == 1
    assert models.Caution.objects.get().text == "Never touch a stand."
    assert models.RemedyVersion.objects.filter(remedy="rebed").count() == 1


def test_a_version_never_changes(files):
    catalogue_load(folder=files.folder)
    version = models.CheckpointVersion.objects.first()
    version.weight = 1
    with pytest.raises(TypeError, match="never changes"):
        version.save()


@pytest.mark.parametrize(
    ("model", "change"),
    [
        (models.CheckpointVersion, {"weight": 9}),
        (models.CheckpointVersion, {"walk_away_level": 0}),
        (models.CheckpointVersion, {"professional_from": 5}),
        (models.CheckpointVersion, {"sd": 0}),
        (models.CheckpointVersion, {"breakage": 0.6}),
        (models.CheckpointVersion, {"ages_with": "owner"}),
        (models.CheckpointVersion, {"measure_name": "gap", "measure_scale": None}),
        (models.RemedyVersion, {"hours_low": 1000}),
        (models.RemedyVersion, {"parts_high": -1}),
        (models.RemedyVersion, {"own_hours_factor": 0.5}),
        (models.RemedyVersion, {"urgency": "soon"}),
        (models.RemedyVersion, {"number": 0}),
        (cost_models.Enabling, {"confidence": "sure"}),
        (models.Scale, {"highest": 0}),
        (cost_models.Fee, {"per": "value"}),
        (cost_models.RunningCost, {"low": 1}),
        (models.Edition, {"yard_rate_low": 200}),
    ],
)
def test_the_database_refuses_nonsense(files, model, change):
    catalogue_load(folder=files.folder)
    with pytest.raises(IntegrityError), transaction.atomic():
        model.objects.update(**change)


def test_one_current_version_and_no_number_twice(files):
    catalogue_load(folder=files.folder)
    joint = models.CheckpointVersion.objects.get(checkpoint="joint")
    with pytest.raises(IntegrityError), transaction.atomic():
        models.Checkpoint.objects.filter(code="iron").update(current=joint)
    joint.pk, joint._state.adding = None, True
    with pytest.raises(IntegrityError), transaction.atomic():
        joint.save()


def test_a_snapshot_takes_as_many_queries_for_many_checkpoints_as_for_few(files):
    def queries() -> int:
        with CaptureQueriesContext(
            connection,
        ) as taken:
            catalogue_snapshot()
        return len(taken)

    catalogue_load(folder=files.folder)
    few = queries()
    assert queries() == 1, "the same edition is read once"
    catalogue_load(folder=settings.BASE_DIR / "fixtures" / "catalogue")
    assert queries() == few


def test_without_a_catalogue_it_says_so():
    with pytest.raises(Conflict) as refused:
        catalogue_snapshot()
    assert refused.value.code == "no_catalogue"


def run(*arguments) -> str:
    said = io.StringIO()
    call_command("load_catalogue", *arguments, stdout=said)
    return said.getvalue()


def test_the_command_loads_once(files):
    assert run(files.folder) == "Loaded edition 1: 6 new or changed, 0 retired.\n"
    assert run(files.folder) == "Unchanged: still edition 1.\n"


def test_the_command_checks_without_loading():
    assert run("--check").startswith("Sound: ")
    assert not models.Edition.objects.exists()


@pytest.mark.parametrize("options", [[], ["--check"]])
def test_the_command_names_every_fault(files, options):
    files.change(KEEL, "weight = 4.5", "weight = 9")
    files.change(KEEL, "professional_from = 2", "professional_from = 7")
    with pytest.raises(CommandError) as refused:
        run(files.folder, *options)
    assert str(refused.value) == (
        "checkpoints/keel.toml: joint: professional_from: must be at most 4, is 7\n"
        "checkpoints/keel.toml: joint: weight: must be at most 5, is 9"
    )


def test_no_title_of_a_check_is_a_question():
    """Pages write the level after it: "Seacock movement: defective"."""
    assert [one.title for one in REAL.checkpoints.values() if "?" in one.title] == []
