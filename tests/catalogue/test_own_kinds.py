"""Entries are written as in the files, so that what is read can be sent again."""

import json
from pathlib import Path

import pytest
from django.conf import settings
from jsonschema import Draft202012Validator

from apps.catalogue.own.entries import entry_faults
from apps.catalogue.own.kinds import CAUTIONS, KINDS, RATES, entry_overlaid, things
from apps.catalogue.own.layers import OwnEntry, overlaid
from apps.catalogue.own.models import CatalogueChange
from apps.catalogue.reading import read_catalogue
from apps.catalogue.snapshot import Catalogue, CostBasis, Snapshot

FILES: Path = settings.BASE_DIR / "fixtures" / "catalogue"


@pytest.fixture(scope="module")
def catalogue() -> Catalogue:
    return read_catalogue(FILES)


def basis(catalogue: Catalogue) -> CostBasis:
    return catalogue.money.basis


def test_the_kinds_are_those_that_are_stored():
    assert set(KINDS) == set(CatalogueChange.Kind.values)


@pytest.mark.parametrize("kind", KINDS)
def test_the_shapes_are_schemas(kind):
    """Against the meta-schema of JSON Schema draft 2020-12, which OpenAPI 3.1 takes them as."""
    for shape in (KINDS[kind].whole, KINDS[kind].over):
        Draft202012Validator.check_schema(shape)


@pytest.mark.parametrize("kind", KINDS)
def test_all_that_the_files_say_can_be_written_sent_and_read_again(catalogue, kind):
    of = KINDS[kind]
    found = things(catalogue, kind)
    assert found
    for code, thing in found.items():
        sent = json.loads(json.dumps(of.write(thing)))
        assert list(entry_faults(kind, sent, over=False)) == []
        assert of.read(code, sent) == thing
        if kind != CAUTIONS:
            assert entry_overlaid(kind, code, sent, thing) == thing


def test_what_is_said_as_it_is_underlying_changes_nothing(catalogue):
    versions = dict.fromkeys(catalogue.checkpoints, 1)
    underlying = Snapshot(edition=1, catalogue=catalogue, checkpoint_version_ids=versions)
    entries = [
        OwnEntry(kind, code, KINDS[kind].write(thing), 1, basis(catalogue))
        for kind in KINDS
        if kind != CAUTIONS
        for code, thing in things(catalogue, kind).items()
    ]
    found = overlaid(underlying, entries, owner="club", number=1)
    assert found.catalogue == catalogue
    assert list(found.catalogue.checkpoints) == list(catalogue.checkpoints)
    assert list(found.catalogue.remedies) == sorted(
        catalogue.remedies,
        key=lambda code: (catalogue.areas[catalogue.remedies[code].area].position, code),
    )
    assert found.set_aside == ()


def test_everything_that_may_be_left_out_can_be(catalogue):
    """All at once, except entries that a remaining entry names."""
    versions = dict.fromkeys(catalogue.checkpoints, 1)
    underlying = Snapshot(edition=1, catalogue=catalogue, checkpoint_version_ids=versions)
    entries = [
        OwnEntry(kind, code, None, None, basis(catalogue))
        for kind in KINDS
        for code in things(catalogue, kind)
    ]
    found = overlaid(underlying, entries, owner="club", number=1)
    assert all(one.guarded for one in found.catalogue.checkpoints.values())
    assert {code for code, one in catalogue.checkpoints.items() if one.guarded} == set(
        found.catalogue.checkpoints
    )
    assert found.catalogue.cautions == catalogue.cautions
    assert found.catalogue.running == found.catalogue.fees == {}
    assert found.catalogue.money.yard_rate == things(catalogue, RATES)["yard-hour"].hour
    triggered = {c.code for one in found.catalogue.checkpoints.values() for c in one.remedies}
    assert triggered <= set(found.catalogue.remedies)
