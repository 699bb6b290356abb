"""What the walk says of changes in the database: its tests trust that nothing escapes it."""

import pytest

from apps.groups.models import Group
from tests.system.walk import changed_since, stored, undone

pytestmark = pytest.mark.django_db
GROUPS = Group._meta.db_table


def test_a_row_that_is_added_changed_or_deleted_is_told(cast):
    before = stored()
    assert changed_since(before) == {}
    added = Group.objects.create(name="Dunlin")
    (row,) = changed_since(before)[GROUPS]
    assert "Dunlin" in row
    before = stored()
    Group.objects.filter(pk=added.pk).update(name="Godwit")
    was, present = changed_since(before)[GROUPS]
    assert "Dunlin" in was
    assert "Godwit" in present
    before = stored()
    Group.objects.filter(pk=added.pk).delete()
    (row,) = changed_since(before)[GROUPS]
    assert "Godwit" in row


def test_nothing_is_told_where_all_rows_are_as_before(cast):
    before = stored()
    for n in range(50):  # of some length, so that it leaves traces in the file
        Group.objects.create(name=f"Plover {n} " + "x" * 100)
    Group.objects.filter(name__startswith="Plover").delete()
    assert changed_since(before) == {}
    with undone():
        Group.objects.create(name="Dunlin")
        assert changed_since(before)
    assert changed_since(before) == {}
