"""Who may do what: every operation with what each role of its group or club gets.

Most follows from the rules (apps/groups/rules.py): of a write, from what its view needs; of a read,
from its address, because whoever belongs to a group or a club reads what it has. `access.toml`
names the other operations. tests/system/test_access.py asks each of them as each role.
"""

import tomllib
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from typing import Any

from drf_spectacular.generators import SchemaGenerator

from apps.groups.needs import InClub, InGroup
from apps.groups.rules import ALLOWED, CLUB_ALLOWED, Action, ClubAction, ClubRole, Role
from server.docs.operations import tags

FILE = Path(__file__).parent / "access.toml"
IN_GROUP, IN_CLUB = tuple(role.value for role in Role), tuple(role.value for role in ClubRole)
ROLES = (*IN_GROUP, *IN_CLUB)
ALLOWS, REFUSES, HIDES = "yes", "403", "404"


@dataclass(frozen=True)
class AccessRule:
    """What each role gets by itself.

    says: who else may, or what besides the role it takes.
    others: what people of other groups and clubs get. nobody: what anybody without a token gets.
    """

    cells: tuple[str, ...]
    others: str = HIDES
    nobody: str = "401"
    says: str = ""

    @property
    def by_role(self) -> dict[str, str]:
        return dict(zip(ROLES, self.cells, strict=True))


@dataclass(frozen=True)
class OperationAccess:
    id: str
    summary: str
    rule: AccessRule
    scope: str | None


@dataclass(frozen=True)
class AccessPart:
    """The operations of one tag."""

    name: str
    operations: tuple[OperationAccess, ...]


@cache
def access_table() -> tuple[AccessPart, ...]:
    """Every operation in the order of the job. Raises `KeyError` for one without a rule."""
    found = _views()
    return tuple(
        AccessPart(
            tag["name"],
            tuple(
                OperationAccess(id, summary, _rule(id, *found[id]), _scope(*found[id][:2]))
                for id, summary in tag["operations"].items()
            ),
        )
        for tag in tags()
    )


def need_of(id: str) -> object:
    """What the view needs for an operation, if it says so."""
    view, method, _ = _views()[id]
    return view.needs.get(method)


@cache
def _views() -> dict[str, tuple[Any, str, str]]:
    """The view class, method and path of each operation."""
    untyped: Any = SchemaGenerator
    generator = untyped()
    paths = generator.get_schema(public=True)["paths"]
    return {
        paths[path][method.lower()]["operationId"]: (callback.cls, method, path)
        for path, _, method, callback in generator.endpoints
        if method.lower() in paths.get(path, ())
    }


def _scope(view: Any, method: str) -> str | None:
    scope: str | None = view.scopes.get(method)
    return scope


def _rule(id: str, view: Any, method: str, path: str) -> AccessRule:
    need = view.needs.get(method)
    if isinstance(need, InGroup):
        return roles_rule(ALLOWED[need.action], IN_GROUP, says=_whoever_buys(need.action))
    if isinstance(need, InClub):
        return roles_rule(CLUB_ALLOWED[need.action], IN_CLUB)
    if id in exceptions():
        return exceptions()[id]
    if method == "GET" and path.startswith("/api/v1/clubs/{"):
        return roles_rule(CLUB_ALLOWED[ClubAction.READ], IN_CLUB)
    if method == "GET" and "{" in path:
        return roles_rule(ALLOWED[Action.READ], IN_GROUP)
    raise KeyError(f"say in {FILE.name} who may do {id}")


def _whoever_buys(action: Action) -> str:
    return "Whoever of them buys." if action is Action.OPINE else ""


def roles_rule(allowed: Iterable[str], see: Iterable[str], says: str = "") -> AccessRule:
    """see: the roles for which the thing exists."""
    may, seeing = set(allowed), set(see)
    cells = (ALLOWS if r in may else REFUSES if r in seeing else HIDES for r in ROLES)
    return AccessRule(tuple(cells), says=says)


@cache
def exceptions() -> dict[str, AccessRule]:
    rules = tomllib.loads(FILE.read_text())["rule"]
    return {id: _exception(rule) for rule in rules for id in rule["operations"]}


def _exception(rule: Mapping[str, Any]) -> AccessRule:
    if rule.get("open"):
        nobody = ALLOWS if rule["open"] == "everybody" else "401"
        return AccessRule((ALLOWS,) * len(ROLES), ALLOWS, nobody, rule["says"])
    may: set[str] = set()
    see: set[str] = set(rule.get("see", ()))
    if "group" in rule:
        may, see = may | ALLOWED[Action[rule["group"]]], see | set(IN_GROUP)
    if "club" in rule:
        may, see = may | CLUB_ALLOWED[ClubAction[rule["club"]]], see | set(IN_CLUB)
    return roles_rule(may, see - set(rule.get("hidden_from", ())), rule.get("says", ""))
