"""Queries whose SQL is composed once give what the query itself gives."""

import uuid
from datetime import timedelta

import pytest
from django.utils import timezone

from apps.accounts.models import Token
from apps.common.prepared import Prepared, PreparedRecord
from apps.groups.models import Club, Group, Membership

pytestmark = pytest.mark.django_db


def roles(group_id: uuid.UUID, person_id: uuid.UUID):
    found = Membership.objects.filter(group=group_id, person=person_id)
    return found.values_list("person_id", "role", "buys", "group__name")


def test_it_works(cast):
    prepared = Prepared(roles, uuid.UUID, uuid.UUID)
    for who in (cast.ola, cast.ivy, cast.wim):
        given = cast.group.pk, who.person.pk
        assert prepared(*given) == list(roles(*given))
    assert prepared.first(cast.group.pk, cast.wim.person.pk) is None


def test_the_sql_is_composed_once(cast):
    composed = []

    def compose(group_id):
        composed.append(group_id)
        return Group.objects.filter(pk=group_id).values_list("name")

    prepared = Prepared(compose, uuid.UUID)
    names = [prepared.first(group.pk) for group in (cast.group, cast.other_group)]
    assert names == [("Tern",), ("Skua",)]
    assert len(composed) == 1


def test_one_parameter_in_several_places_and_values_of_other_types(cast):
    token = Token.objects.get(person=cast.ola.person)
    prepared = Prepared(
        lambda digest, now, pk: (
            Token.objects.filter(digest=digest, expires_at__gt=now, created_at__lte=now)
            .exclude(pk=pk)
            .values_list("pk", "expires_at", "scopes")
        ),
        *(str, type(timezone.now()), uuid.UUID),
    )
    now = timezone.now()
    assert prepared(token.digest, now, uuid.uuid4()) == [(token.pk, token.expires_at, None)]
    assert prepared(token.digest, now, token.pk) == []
    assert prepared(token.digest, now + timedelta(days=9), uuid.uuid4()) == []


def test_an_id_as_text_finds_the_same(cast):
    prepared = Prepared(roles, uuid.UUID, uuid.UUID)
    given = cast.group.pk, cast.ola.person.pk
    assert prepared(*map(str, given)) == prepared(*given) != []


def test_a_parameter_of_another_type_is_refused(cast):
    """It would find nothing, and a check of access would pass."""
    prepared = Prepared(roles, uuid.UUID, uuid.UUID)
    for given in ((cast.group.pk,), (7, cast.ola.person.pk), (None, cast.ola.person.pk)):
        with pytest.raises(TypeError):
            prepared(*given)


def test_a_record_comes_as_the_query_itself_gives_it_with_those_it_refers_to(cast):
    related = ("group", "group__club", "person")

    def live(group_id, person_id):
        return Membership.objects.filter(group=group_id, person=person_id, ended_at=None)

    prepared = PreparedRecord(Membership, related, live, uuid.UUID, uuid.UUID)
    for group in (cast.group, in_a_club(cast.other_group)):
        who = Membership.objects.filter(group=group).first().person_id
        found = prepared(group.pk, who)
        plain = live(group.pk, who).select_related(*related).get()
        assert values_of(found) == values_of(plain)
        assert values_of(found.person) == values_of(plain.person)
        assert values_of(found.group) == values_of(plain.group)
        assert found.group.club == plain.group.club
        assert (found._state.adding, found._state.db) == (False, plain._state.db)
    assert prepared(cast.group.pk, cast.wim.person.pk) is None


def in_a_club(group):
    group.club = Club.objects.create(name="Long Table")
    group.save()
    return group


def values_of(record):
    return {field.attname: getattr(record, field.attname) for field in record._meta.concrete_fields}
