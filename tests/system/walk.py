"""Calls any operation as anybody, and fails on undocumented or leaking answers."""

import json
import sqlite3
from collections.abc import Callable, Iterator
from contextlib import ExitStack, closing, contextmanager
from dataclasses import dataclass, field
from datetime import timedelta
from functools import partial
from typing import Any

from django.apps import apps
from django.db import connection, transaction
from django.db.models import Model
from django.utils import timezone

from apps.accounts.models import Token
from apps.accounts.scopes import SCOPES
from apps.accounts.services import token_create
from apps.groups.models import ClubMembership, Membership
from tests.conftest import Cast, Speaker, cast_made, speaker
from tests.kept import Row, Rows, kept, rows_of
from tests.system.calls import CALLS, Call, Given
from tests.system.operations import Operation, filled, operations
from tests.system.world import World, with_files, world_made

OUTSIDERS = ("stranger", "other_group", "left")
KEYLESS = ("nobody", "expired", "revoked")


@dataclass
class Walk:
    """Two worlds with the same records; calls are made in `here`."""

    here: World
    there: World
    who: dict[str, Speaker]
    subtests: Any = None
    given: "Standing" = field(default_factory=lambda: Standing())

    @contextmanager
    def trial(self, operation: Operation) -> Iterator[Call]:
        """Try one operation: a failure does not end the walk, and its effects are undone."""
        call = CALLS[operation.id]
        with self.subtests.test(operation.id):
            self.given.become(call.given, self.here, self.there)
            with undone():
                yield call

    def ask(
        self,
        operation: Operation,
        by: str | Speaker | None = None,
        *,
        query: str = "",
        body: Any = ...,
        **headers: str,
    ) -> Any:
        """The answer to the operation's call, which must be documented and must not leak."""
        call = CALLS[operation.id]
        if body is ...:
            body = call.body(self.here) if call.body else None
        path = filled(operation.path, self.here.named, call.at) + query
        who = self._speaker(by or call.by)
        if operation.takes_form:
            answer = who.send_form(path, with_files(body), **headers)
        else:
            answer = who.send(operation.method, path, body, **headers)
        faults = operation.faults_of(answer)
        assert not faults, (operation.id, faults)
        asked, said = path + json.dumps(body, default=str), answer.content.decode(errors="replace")
        kept = self.there.words if call.keyed else self.kept_from(who)
        leaks = [word for word in kept if word in said and word not in asked]
        assert leaks == [], answer.content
        return answer

    def succeed(self, operation: Operation) -> Any:
        """The same with the present version, where one is required; it must succeed."""
        answer = self.ask(operation, **self.version(operation))
        assert 200 <= answer.status_code < 300, answer.content
        return answer

    def kept_from(self, who: Speaker) -> set[str]:
        """The words and ids that this person must never get."""
        outside = [self.who[name] for name in (*OUTSIDERS, *KEYLESS)]
        hidden = self.here.words if who in outside else set()
        return hidden if who is self.who["other_group"] else hidden | self.there.words

    def version(self, operation: Operation, by: str | None = None) -> dict[str, str]:
        """The If-Match of the record to change, if it can be read."""
        if not operation.takes_version:
            return {}
        reads = [o for o in operations().values() if (o.method, o.path) == ("GET", operation.path)]
        assert reads, "what is changed by its version must be there to be read"
        call = CALLS[operation.id]
        path = filled(operation.path, self.here.named, call.at)
        answer = self.who[by or call.by].get(path)
        return {"If_Match": answer["ETag"]} if answer.has_header("ETag") else {}

    def narrowed(self, operation: Operation) -> Speaker:
        """The caller with a token that has every scope except the required one."""
        by = CALLS[operation.id].by
        person = self._speaker("organiser" if by == "nobody" else by).person
        return with_token(person, scopes=sorted(set(SCOPES) - {operation.scope}))

    def _speaker(self, by: str | Speaker) -> Speaker:
        return self.who[by] if isinstance(by, str) else by


@dataclass
class Standing:
    """Records for the operations: made once per run, later restored from their rows.

    Making them takes longer than most calls. `keep` is False where the worlds vary: there they are
    made once for all consecutive operations that need them.
    """

    keep: bool = True
    made: Given | None = None
    until_undone: ExitStack = field(default_factory=ExitStack)
    ids: list[dict[str, str]] = field(default_factory=list)

    def become(self, given: Given | None, *worlds: World) -> None:
        if given is None or given is not self.made:
            self.end()
            if given is None:
                return
            self.until_undone.enter_context(undone())
            self.made, self.ids = given, self._ids(given, worlds)
        for world, ids in zip(worlds, self.ids, strict=True):
            world.ids.update(ids)

    def _ids(self, given: Given, worlds: tuple[World, ...]) -> list[dict[str, str]]:
        def made() -> list[dict[str, str]]:
            for world in worlds:
                given(world)
            return [dict(world.ids) for world in worlds]

        return (
            kept((given, *(world["group_id"] for world in worlds)), made) if self.keep else made()
        )

    def end(self) -> None:
        self.made = None
        self.until_undone.close()


def those(are: Callable[[Operation], bool] = lambda _: True) -> list[Operation]:
    """The operations of this kind, in the order of the records they need.

    Another test fails for those without a call.
    """
    known = [o for o in operations().values() if o.id in CALLS and are(o)]
    givens = [CALLS[o.id].given for o in known]
    return sorted(known, key=lambda o: givens.index(CALLS[o.id].given))


@contextmanager
def undone() -> Iterator[None]:
    with transaction.atomic():
        yield
        transaction.set_rollback(True)


def with_token(person: Any, **options: Any) -> Speaker:
    _, secret = token_create(
        person=person,
        kind=Token.Kind.PERSONAL,
        expires_at=timezone.now() + timedelta(days=1),
        **options,
    )
    return Speaker(person, secret)


def both_worlds(word: str = "Ternword", other: str = "Skuaword") -> Walk:
    cast = cast_made()
    una = speaker("Una")
    Membership.objects.create(group=cast.other_group, person=una.person, role="buyer")
    who = {
        "organiser": cast.ola,
        "buyer": cast.ben,
        "helper": cast.hal,
        "observer": cast.ivy,
        "adviser": speaker("Abe"),
        # People with one role each, who are authors of nothing.
        "other_organiser": speaker("Oda"),
        "other_buyer": cast.bea,
        "secretary": speaker("Sue"),
        "member": speaker("Max"),
        "nobody": cast.nobody,
        "stranger": cast.sten,
        "other_group": cast.wim,
        "left": left(cast),
        **spent_keys(cast),
    }
    for known in who.values():
        known.get("/people/me")  # the first use of a token in an hour is stored
    here = world_made(word, cast.group, cast.ola, cast.ben, who["adviser"])
    there = world_made(other, cast.other_group, cast.wim, una, speaker("Alf"))
    Membership.objects.create(
        group=cast.group, person=who["other_organiser"].person, role="organiser", buys=True
    )
    for role in ("secretary", "member"):
        ClubMembership.objects.create(club_id=here["club_id"], person=who[role].person, role=role)
    return Walk(here, there, who)


def left(cast: Cast) -> Speaker:
    """A former member of the group."""
    eve = speaker("Eve")
    Membership.objects.create(
        group=cast.group, person=eve.person, role="organiser", ended_at=timezone.now()
    )
    return eve


def spent_keys(cast: Cast) -> dict[str, Speaker]:
    """The organiser with expired and revoked tokens."""
    spent = {name: with_token(cast.ola.person) for name in ("expired", "revoked")}
    now = timezone.now()
    tokens = Token.objects.filter(person=cast.ola.person, kind=Token.Kind.PERSONAL).order_by("pk")
    expired, revoked = tokens
    Token.objects.filter(pk=expired.pk).update(
        created_at=now - timedelta(days=2), expires_at=now - timedelta(days=1)
    )
    Token.objects.filter(pk=revoked.pk).update(revoked_at=now)
    return spent


def stored() -> bytes | Rows:
    """Every row of every table of the service, to compare with what is there later.

    On SQLite the database as it would be in a file, which takes a hundredth of the time of reading
    the rows.
    """
    database = connection.connection
    return database.serialize() if hasattr(database, "serialize") else _rows(rows_of)


def changed_since(before: bytes | Rows) -> dict[str, list[Row]]:
    """The rows that were added, changed (old and new) or deleted, by table."""
    now = stored()
    if now == before:
        return {}
    was, present = _rows_in(before), _rows_in(now)
    changed = {
        model._meta.db_table: [
            *(row for key, row in rows.items() if present[model].get(key) != row),
            *(row for key, row in present[model].items() if rows.get(key) != row),
        ]
        for model, rows in was.items()
    }
    return {table: rows for table, rows in changed.items() if rows}


def _rows_in(whole: bytes | Rows) -> Rows:
    """Files with the same rows can still differ, as by a row that was added and deleted again."""
    if not isinstance(whole, bytes):
        return whole
    with closing(sqlite3.connect(":memory:")) as database:
        database.deserialize(whole)
        return _rows(partial(rows_of, cursor=database.cursor()))


def _rows(read: Callable[[type[Model]], dict[Any, Row]]) -> Rows:
    return {
        model: read(model)
        for model in apps.get_models(include_auto_created=True)
        if model.__module__.startswith("apps.")
    }
