"""Published figures rest on at least three groups besides one's own, also after subtraction."""

from itertools import combinations

import pytest
from django.db import IntegrityError, transaction

from apps.boats.models import Candidate
from apps.events.models import Event
from apps.groups.models import Group, Membership
from apps.outcomes import services, tables, tasks
from apps.outcomes.models import ClubOutcomes, GroupOutcomes, OutcomesFigure, OutcomesTable
from apps.outcomes.services import RefreshTurn, club_outcomes_refresh, clubs_with_outcomes
from tests.conftest import speaker
from tests.outcomes.building import CODE, Harbour, buyers


def figures_told(harbour: Harbour) -> dict[tuple[str, str], tuple[float, int]]:
    figures = OutcomesFigure.objects.filter(table__club=harbour.club, table__kind="found")
    return {(one.by, one.value): (one.figure, one.boats) for one in figures}


def everybody_surveyed(harbour: Harbour, level: int = 1, **particulars) -> None:
    for group in harbour.groups:
        group.surveyed(level, **particulars)


def test_three_groups_are_too_few_for_a_fourth_and_four_are_enough(harbour):
    for group in harbour.groups[:3]:
        group.surveyed(3)
    assert harbour.experience() == RefreshTurn()
    assert harbour.figure() is None
    harbour.groups[3].surveyed(3)
    assert harbour.experience().disclosed == 1
    assert (harbour.figure().groups, harbour.figure().boats) == (4, 4)


def test_many_boats_of_few_groups_are_not_told(harbour):
    for group in harbour.groups[:3]:
        for _ in range(6):
            group.surveyed(3)
    harbour.experience()
    assert harbour.figure() is None


def test_the_database_holds_no_figure_of_two_groups(harbour):
    everybody_surveyed(harbour)
    harbour.experience()
    for few in ({"groups": 2}, {"boats": 2}, {"low": 2.0}):
        with pytest.raises(IntegrityError), transaction.atomic():
            OutcomesFigure.objects.update(**few)
    with pytest.raises(IntegrityError), transaction.atomic():
        GroupOutcomes.objects.update(groups=2)


def test_groups_with_a_person_in_common_count_as_one(harbour):
    first, second = harbour.groups[:2]
    Membership.objects.create(
        group=first.group, person=second.organiser.person, role="helper", buys=False
    )
    for group in harbour.groups[:4]:
        group.surveyed(3)
    harbour.experience()
    assert harbour.figure() is None
    harbour.groups[4].surveyed(3)
    harbour.experience()
    assert harbour.figure().groups == 5


def test_groups_that_did_not_agree_are_behind_nothing(harbour):
    Group.objects.filter(pk=harbour.groups[0].group.pk).update(shares_surveys=False)
    everybody_surveyed(harbour)
    harbour.groups[0].surveyed(4)
    buyers("Kiwi", None).surveyed(4)
    harbour.experience()
    assert (harbour.figure().groups, harbour.figure().boats) == (4, 4)


# --- By subtraction ------------------------------------------------------------------------------


def test_what_the_kinds_shown_leave_of_all_is_wide_enough_too(harbour):
    """Boats with a full keel belong to two groups: the total less the others would reveal them."""
    for group in harbour.groups:
        group.surveyed(1, keel="bolted_fin")
    for group in harbour.groups[:2]:
        group.surveyed(4, keel="full")
    harbour.experience()
    cells = figures_told(harbour)
    assert ("", "") in cells
    assert ("keel", "full") not in cells
    assert ("keel", "bolted_fin") not in cells


def test_boats_of_a_kind_that_nobody_knows_are_not_told_either(harbour):
    for group in harbour.groups:
        group.surveyed(1, keel="bolted_fin")
    harbour.groups[0].surveyed(4, keel="")
    harbour.experience()
    assert ("", "") in figures_told(harbour)
    assert ("keel", "bolted_fin") not in figures_told(harbour)


def test_kinds_in_two_respects_are_not_told_from_one_another(harbour):
    """All boats with a full keel are old, and one old boat has another keel: the two figures would
    reveal her.
    """
    year = 1960
    for group in harbour.groups:
        group.surveyed(1, keel="full", build_year=year)
        for keel in ("bolted_fin", "twin"):
            group.surveyed(1, keel=keel)
    harbour.groups[0].surveyed(4, keel="bolted_fin", build_year=year)
    harbour.experience()
    cells = figures_told(harbour)
    assert not {("keel", "full"), ("age", "from_45")} <= cells.keys()


def test_whatever_is_told_nobody_can_take_it_apart(harbour):
    """Brute force: of every two sums told, as far as small numbers go, and of all less all."""
    keels, hulls = ("full", "twin", "bolted_fin"), ("grp", "steel")
    n = 0
    for group in harbour.groups:
        for _ in range(4):
            n += 1
            group.surveyed(n % 5, keel=keels[n * n % 3], hull_material=hulls[n % 7 % 2])
    harbour.experience()
    table = OutcomesTable.objects.get(kind="found", subject=CODE)
    boats = table.basis["boats"]
    disclosed = [tuple(cell) for cell in table.basis["disclosed"]]
    assert len(disclosed) > 1
    assert set(disclosed) == set(figures_told(harbour))

    def behind(signs: dict[tuple[str, str], int]) -> set[str]:
        groups = set()
        for boat in boats:
            cells = {tuple(cell) for cell in boat["cells"]}
            if sum(sign for cell, sign in signs.items() if cell in cells):
                groups.add(boat["group"])
        return groups

    for size in (1, 2, 3):
        for cells in combinations(disclosed, size):
            for mask in range(2 ** (size - 1)):
                signs = {c: -1 if n and mask >> (n - 1) & 1 else 1 for n, c in enumerate(cells)}
                assert len(behind(signs)) in (0, 4, 5)


# --- Before and after ----------------------------------------------------------------------------


def test_one_groups_news_does_not_move_a_figure(harbour):
    everybody_surveyed(harbour)
    harbour.experience()
    before = figures_told(harbour)
    disclosed_at = harbour.figure().table.disclosed_at
    for group in harbour.groups[:3]:
        group.surveyed(4)
        done = harbour.experience()
        assert (done.disclosed, done.kept) == (0, 1)
        assert figures_told(harbour) == before
        assert harbour.figure().table.disclosed_at == disclosed_at
    harbour.groups[3].surveyed(4)
    assert harbour.experience().disclosed == 1
    assert harbour.figure().figure == pytest.approx(4 / 9)


def test_another_edition_of_the_catalogue_hides_no_news(harbour, monkeypatch):
    """A new catalogue changes the figures of the same surveys; it does not reveal one group's."""
    everybody_surveyed(harbour)
    harbour.experience()
    before = harbour.figure()
    real = tables.expected_of
    monkeypatch.setattr(tables, "expected_of", lambda *of: (*real(*of)[:2], 0.5))
    harbour.groups[0].surveyed(4)
    assert harbour.experience().disclosed == 0
    assert (harbour.figure().boats, harbour.figure().expected) == (5, before.expected)
    Candidate.objects.filter(list=harbour.groups[0].yard.list).order_by("-pk").first().delete()
    assert harbour.experience().disclosed == 1
    assert (harbour.figure().boats, harbour.figure().expected) == (5, 0.5)


def test_a_particular_put_right_moves_no_kind_by_itself(harbour):
    for group in harbour.groups:
        for keel in ("full", "bolted_fin"):
            group.surveyed(1, keel=keel)
    harbour.experience()
    before = figures_told(harbour)
    assert ("keel", "full") in before
    boats = Candidate.objects.filter(list=harbour.groups[0].yard.list, keel="full")
    boats.update(keel="bolted_fin")
    harbour.experience()
    after = figures_told(harbour)
    assert after["", ""] == before["", ""]
    assert ("keel", "full") not in after
    assert ("keel", "bolted_fin") not in after


def test_who_joins_learns_nothing_from_its_own_joining(harbour):
    for group in harbour.groups[1:]:
        group.surveyed(1)
    harbour.groups[0].shares(False)
    harbour.experience()
    before = figures_told(harbour)
    harbour.groups[0].surveyed(4)
    harbour.groups[0].shares(True)
    harbour.experience()
    assert figures_told(harbour) == before


def test_who_stops_sharing_is_behind_nothing_at_once(harbour):
    everybody_surveyed(harbour)
    for group in harbour.groups[1:]:
        group.surveyed(2, code="engine-oil")
    harbour.experience()
    harbour.groups[0].shares(False)
    subjects = OutcomesFigure.objects.values_list("table__subject", flat=True)
    assert set(subjects) == {"engine-oil"}  # it had nothing in that
    assert harbour.groups[0].club_outcomes is None
    values = [
        one["values"]
        for table in OutcomesTable.objects.all()
        for one in table.basis["boats"]
        if one["group"] == str(harbour.groups[0].group.pk)
    ]
    assert values == [[]]
    kinds = Event.objects.filter(group=harbour.groups[0].group.pk).order_by("number")
    assert list(kinds.values_list("kind", flat=True))[-3:] == [
        "club_outcomes.given",
        "club_outcomes.taken",
        "group.sharing_ended",
    ]


def test_who_leaves_the_club_is_behind_nothing_at_once(harbour):
    everybody_surveyed(harbour)
    for group in harbour.groups[1:]:
        group.surveyed(2, code="engine-oil")
    harbour.experience()
    gone = harbour.groups[0]
    left = gone.organiser.change("DELETE", f"/groups/{gone.group.pk}/club")
    assert left.status_code == 204, left.content
    subjects = OutcomesFigure.objects.values_list("table__subject", flat=True)
    assert set(subjects) == {"engine-oil"}  # it had nothing in that
    assert gone.club_outcomes is None
    group = Group.objects.get(pk=gone.group.pk)
    assert (group.club, group.shares_surveys) == (None, False)
    harbour.experience()
    disclosed = OutcomesFigure.objects.filter(table__subject=CODE)
    assert not disclosed.exists()  # with it and without it would tell it
    assert str(gone.group.pk) not in {
        one["group"]
        for table in OutcomesTable.objects.all()
        for one in table.basis["boats"]
        if one["values"]
    }


def test_what_it_left_is_told_again_only_once_nothing_of_it_follows(harbour):
    everybody_surveyed(harbour)
    harbour.experience()
    harbour.groups[0].shares(False)
    harbour.experience()
    assert harbour.figure() is None  # with it and without it would tell it
    for group in harbour.groups[1:3]:
        group.surveyed(3)
        harbour.experience()
        assert harbour.figure() is None
    harbour.groups[3].surveyed(3)
    assert harbour.experience().disclosed == 1
    assert (harbour.figure().groups, harbour.figure().boats) == (4, 7)


def test_what_it_gave_the_others_is_gone_at_the_next_turn(harbour):
    everybody_surveyed(harbour, level=4)
    harbour.experience()
    assert CODE in harbour.groups[1].club_outcomes.shifts
    harbour.groups[0].shares(False)
    harbour.experience()
    assert GroupOutcomes.objects.count() == 0


def test_who_comes_back_is_told_of_as_before(harbour):
    everybody_surveyed(harbour)
    harbour.experience()
    before = figures_told(harbour)
    harbour.groups[0].shares(False)
    harbour.experience()
    harbour.groups[0].shares(True)
    harbour.experience()
    assert figures_told(harbour) == before


def test_a_group_that_everybody_left_shares_nothing(harbour):
    everybody_surveyed(harbour)
    harbour.experience()
    Membership.objects.filter(group=harbour.groups[0].group).update(ended_at="2025-01-01T00:00Z")
    harbour.experience()
    assert harbour.figure() is None


def test_a_group_of_the_club_no_more_is_behind_nothing(harbour):
    everybody_surveyed(harbour)
    harbour.experience()
    Group.objects.filter(pk=harbour.groups[0].group.pk).update(club=None, shares_surveys=False)
    harbour.experience()
    assert harbour.figure() is None


def test_when_nobody_shares_any_more_there_is_nothing_to_do(harbour):
    everybody_surveyed(harbour)
    harbour.experience()
    for group in harbour.groups:
        group.shares(False)
    harbour.experience()
    assert OutcomesFigure.objects.count() == ClubOutcomes.objects.count() == 0
    assert clubs_with_outcomes() == []


def test_what_is_taken_back_while_it_is_worked_out_is_not_stored(harbour, monkeypatch):
    everybody_surveyed(harbour)
    real = services.tables_of

    def meanwhile(shared):
        harbour.groups[0].shares(False)
        return real(shared)

    monkeypatch.setattr(services, "tables_of", meanwhile)
    assert harbour.experience() == RefreshTurn(superseded=True)
    assert OutcomesTable.objects.count() == 0
    sent = []
    monkeypatch.setattr(tasks, "send_refresh", sent.append)
    harbour.groups[0].shares(True)
    tasks.refresh_club(str(harbour.club.pk))
    assert sent == [harbour.club.pk]


def test_of_two_workers_the_later_begins_anew(harbour, monkeypatch):
    """Its figures were checked against published figures that have been replaced meanwhile."""
    everybody_surveyed(harbour)
    real, turns = services.tables_of, []

    def meanwhile(shared):
        turns.append(shared)
        if len(turns) == 1:
            assert not harbour.experience().superseded
        return real(shared)

    monkeypatch.setattr(services, "tables_of", meanwhile)
    assert harbour.experience() == RefreshTurn(superseded=True)
    disclosed = harbour.figure()
    assert harbour.experience() == RefreshTurn()
    assert harbour.figure() == disclosed


# --- When it is worked out -----------------------------------------------------------------------


def test_what_has_not_changed_is_not_worked_out_again(harbour, monkeypatch):
    everybody_surveyed(harbour)
    harbour.experience()
    monkeypatch.setattr(services, "judged", None)
    assert harbour.experience() == RefreshTurn()


def test_the_schedule_sends_one_message_for_each_club(harbour, monkeypatch):
    Group.objects.create(name="Alone")
    sent = []
    monkeypatch.setattr(tasks, "send_refresh", sent.append)
    tasks.refresh_outcomes()
    assert sent == [harbour.club.pk]


def test_ending_asks_for_another_turn(harbour, monkeypatch, django_capture_on_commit_callbacks):
    sent = []
    monkeypatch.setattr(services, "send_refresh", sent.append)
    with django_capture_on_commit_callbacks(execute=True):
        harbour.groups[0].shares(False)
    assert sent == [harbour.club.pk]


def test_the_operator_can_have_it_worked_out_now(harbour, capsys):
    from django.core.management import call_command

    everybody_surveyed(harbour)
    call_command("refresh_outcomes")
    assert "1 tables published anew" in capsys.readouterr().out


def test_another_clubs_boats_are_not_mixed_in(harbour, db):
    everybody_surveyed(harbour)
    from apps.groups.models import Club

    other = Club.objects.create(name="Elsewhere")
    buyers("Kiwi", other).surveyed(4)
    for club in (harbour.club, other):
        club_outcomes_refresh(club_id=club.pk)
    assert harbour.figure().boats == 5
    assert not OutcomesFigure.objects.filter(table__club=other).exists()
    assert speaker("Nia").get(harbour.path).status_code == 404
