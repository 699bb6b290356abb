"""Collects every code of a refusal from the source.

A carrier of codes is a class or function of `apps` with parameters named `code` and `detail`. Codes
are taken from calls of carriers with a literal code; a code that a call only passes on is literal
elsewhere. The framework's codes for fields are taken from the serializers.
"""

import ast
import importlib
import pkgutil
from collections.abc import Iterator
from dataclasses import dataclass
from functools import cache
from pathlib import Path

from django.conf import settings
from rest_framework import exceptions, serializers

import apps
from apps.catalogue.schema import PHRASES

ROOT = Path(settings.BASE_DIR)
# Carriers that refuse nothing over HTTP.
NOT_THE_SERVICE = ("reckoning", "migrations", "management")

# The framework's carriers, and the position of the code.
FRAMEWORK = {
    "ValidationError": 1,
    "ErrorDetail": 1,
    "AuthenticationFailed": 1,
    "PermissionDenied": 1,
    "fail": 0,
}
# Raised by the framework for requests of these kinds.
OF_REQUESTS = (
    exceptions.ParseError,
    exceptions.NotAuthenticated,
    exceptions.MethodNotAllowed,
    exceptions.NotAcceptable,
    exceptions.UnsupportedMediaType,
)
# No field here can answer these: all times are UTC, which has no gaps; no slug has other letters;
# an upload without a name is no upload.
NEVER = frozenset({"make_aware", "invalid_unicode", "no_name"})


@dataclass(frozen=True)
class Carrier:
    """A carrier: the position of `code` among its arguments."""

    name: str
    place: int


def sources() -> Iterator[tuple[str, ast.Module]]:
    for path in sorted((ROOT / "apps").rglob("*.py")):
        parts = path.relative_to(ROOT).with_suffix("").parts
        if not set(parts) & set(NOT_THE_SERVICE):
            yield ".".join(parts), ast.parse(path.read_text())


@cache
def carriers() -> dict[str, dict[str, Carrier]]:
    """The carriers by module."""
    return {module: dict(_defined(tree)) for module, tree in sources()}


def _defined(tree: ast.Module) -> Iterator[tuple[str, Carrier]]:
    for node in ast.walk(tree):
        if isinstance(node, ast.FunctionDef):
            names = [argument.arg for argument in node.args.args]
            if names[:1] in (["self"], ["cls"]):
                names = names[1:]
            name = node.name
        elif isinstance(node, ast.ClassDef):
            names = [
                field.target.id
                for field in node.body
                if isinstance(field, ast.AnnAssign) and isinstance(field.target, ast.Name)
            ]
            init = next(
                (f for f in node.body if isinstance(f, ast.FunctionDef) and f.name == "__init__"),
                None,
            )
            if init is not None:
                names = [argument.arg for argument in init.args.args[1:]]
            name = node.name
        else:
            continue
        if "code" in names and "detail" in names:
            yield name, Carrier(name, names.index("code"))


def codes_in_source() -> dict[str, set[str]]:
    """Every literal code in the source, with its carriers."""
    found: dict[str, set[str]] = {}
    for module, tree in sources():
        known = {**_imported(tree), **carriers()[module]}
        for node in ast.walk(tree):
            if isinstance(node, ast.Call):
                name = node.func.attr if isinstance(node.func, ast.Attribute) else ""
                name = node.func.id if isinstance(node.func, ast.Name) else name
                for code in _codes_of(node, name, known):
                    found.setdefault(code, set()).add(name)
            elif isinstance(node, ast.Assign) and ast.unparse(node.targets[0]) == "default_code":
                for code in _texts(node.value):
                    found.setdefault(code, set()).add("ProblemResponse")
    return found


def _imported(tree: ast.Module) -> dict[str, Carrier]:
    """The carriers that a module imports; methods are recognised by name everywhere."""
    known = {
        name: carrier
        for defined in carriers().values()
        for name, carrier in defined.items()
        if name in ("at", "of", "_fault")
    }
    for node in ast.walk(tree):
        if isinstance(node, ast.ImportFrom):
            for alias in node.names:
                carrier = carriers().get(node.module or "", {}).get(alias.name)
                if carrier is not None:
                    known[alias.asname or alias.name] = carrier
                # Modules are imported too: `errors.Conflict`.
                known |= carriers().get(f"{node.module}.{alias.name}", {})
    return known


def _codes_of(call: ast.Call, name: str, known: dict[str, Carrier]) -> Iterator[str]:
    place = known[name].place if name in known else FRAMEWORK.get(name)
    if place is None:
        return
    written = next((word.value for word in call.keywords if word.arg == "code"), None)
    if written is None and len(call.args) > place:
        written = call.args[place]
    if written is not None:
        yield from _texts(written)


def _texts(node: ast.expr) -> Iterator[str]:
    """The literal texts that an expression can give."""
    if isinstance(node, ast.Constant) and isinstance(node.value, str):
        yield node.value
    elif isinstance(node, ast.IfExp):
        yield from _texts(node.body)
        yield from _texts(node.orelse)


def codes_of_fields() -> set[str]:
    """The codes that the framework or an own field can give for any field of a body or query."""
    for module in pkgutil.walk_packages(apps.__path__, "apps."):
        if ".api" in module.name or ".http" in module.name:
            importlib.import_module(module.name)
    found = {code for code, _ in PHRASES.values()}  # of the catalogue's schema
    for serializer in _subclasses(serializers.Serializer):
        # Serializers of answers validate nothing.
        own = serializer.__module__.startswith("apps.")
        if own and not serializer.__name__.endswith("Serializer"):
            found |= set(_codes_of_field(serializer()))
    return found - NEVER


def _subclasses(of: type) -> Iterator[type]:
    for one in of.__subclasses__():
        yield one
        yield from _subclasses(one)


def _codes_of_field(field: serializers.Field) -> Iterator[str]:
    yield from field.error_messages
    yield from (v.code for v in field.validators if hasattr(v, "code"))
    if hasattr(field, "child"):
        yield from _codes_of_field(field.child)
    if isinstance(field, serializers.Serializer):
        for inner in field.fields.values():
            if not inner.read_only:
                yield from _codes_of_field(inner)


def codes_of_requests() -> set[str]:
    return {one.default_code for one in OF_REQUESTS}
