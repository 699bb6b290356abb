"""Convert content to rows, and rows to content.

Stored content is not validated again: an old version may have words that today's types refuse.
"""

from collections.abc import Iterator, Mapping
from dataclasses import fields
from typing import Any, TypeVar

from django.db.models import Model

from apps.catalogue import content, cost_models, models, schema
from apps.catalogue.content import ThreePoints
from apps.catalogue.fields import Entry
from apps.catalogue.own.kinds import checkpoint_read
from apps.catalogue.questions import QuestionEntry
from apps.catalogue.scales import Grade, ScaleEntry
from apps.catalogue.snapshot import CatalogueCosts, CostBasis

T = TypeVar("T", bound=Entry)

POINTS = ("low", "likely", "high")
# Fields of the content that are several columns.
LISTED = {
    **{name: [f"{name}_{point}" for point in POINTS] for name in ("hours", "parts")},
    "range": ["lowest", "highest"],
}
NO_MEASURE = {"name": "", "unit": "", "scale": None}


# --- To rows -------------------------------------------------------------------------------------


def columns(model: type[Model], thing: Entry) -> dict[str, Any]:
    """The columns of a row for a content value, without the parts that other models hold."""
    payload = schema.dump(thing)
    row = {**payload, **payload.get("belief", {}), "area_id": payload.get("area")}
    for name, parts in LISTED.items():
        row |= zip(parts, payload.get(name, ()), strict=False)
    scale, measure = payload.get("scale", {}), payload.get("measure") or NO_MEASURE
    row |= {"loa_exponent": scale.get("exponent") or 0, "by_price": scale.get("by") == "price"}
    row |= {"measure_name": measure["name"], "measure_unit": measure["unit"]}
    row["measure_scale_id"] = measure["scale"]
    known = {field.attname for field in model._meta.concrete_fields}
    return {name: value for name, value in row.items() if name in known}


def money_row(money: CatalogueCosts) -> dict[str, Any]:
    rate = {f"yard_rate_{point}": getattr(money.yard_rate, point) for point in POINTS}
    return {**vars(money.basis), **rate, "price_index": money.price_index}


def questions_row(questions: Mapping[str, QuestionEntry]) -> dict[str, Any]:
    return {"questions": [schema.dump(question) for question in questions.values()]}


# --- From rows -----------------------------------------------------------------------------------


def thing_of(kind: type[T], row: Model, **parts: Any) -> T:
    """The content of a row; `parts` are the fields that the row does not hold under their names."""
    stored = {field.name: getattr(row, field.name) for field in _fields(kind, parts)}
    return kind(**parts, **{name: _frozen(value) for name, value in stored.items()})


def _fields(kind: Any, parts: dict[str, Any]) -> Iterator[Any]:
    return (field for field in fields(kind) if field.name not in parts)


def _frozen(value: Any) -> Any:
    match value:
        case list():
            return tuple(value)
        case dict():
            return {name: tuple(values) for name, values in value.items()}
    return value


def three_points(row: Model, name: str) -> ThreePoints:
    return ThreePoints(*(getattr(row, f"{name}_{point}") for point in POINTS))


def money_of(edition: models.Edition) -> CatalogueCosts:
    return CatalogueCosts(
        basis=thing_of(CostBasis, edition),
        yard_rate=three_points(edition, "yard_rate"),
        # Keys are text in JSON.
        price_index={int(year): index for year, index in edition.price_index.items()},
    )


def questions_of(edition: models.Edition) -> dict[str, QuestionEntry]:
    read = (schema.read(QuestionEntry, each) for each in edition.questions)
    return {question.code: question for question in read}


def scale_of(row: models.Scale) -> ScaleEntry:
    grades = tuple(Grade(**grade) for grade in row.grades)
    return thing_of(ScaleEntry, row, range=(row.lowest, row.highest), grades=grades)


def priced(row: cost_models.Priced, *, by_price: bool = False) -> dict[str, Any]:
    exponent = row.loa_exponent or None
    by = "price" if by_price else "loa" if exponent else "none"
    scaling = content.PricedScaling if isinstance(row, models.RemedyVersion) else content.Scaling
    return {
        "hours": three_points(row, "hours"),
        "parts": three_points(row, "parts"),
        "scale": scaling(by=by, exponent=exponent),
    }


def enabling_of(row: cost_models.Enabling) -> content.EnablingEntry:
    return thing_of(content.EnablingEntry, row, **priced(row))


def remedy_of(version: models.RemedyVersion) -> content.RemedyEntry:
    return thing_of(
        content.RemedyEntry,
        version,
        code=version.remedy_id,
        area=version.area_id,
        enabling=tuple(sorted(enabling.code for enabling in version.enabling.all())),
        variants=tuple(schema.read(content.Variant, each) for each in version.variants),
        **priced(version, by_price=version.by_price),
    )


def checkpoint_of(version: models.CheckpointVersion) -> content.CheckpointEntry:
    if version.own is not None:  # it may name things of its owner, which have no rows
        return checkpoint_read(version.checkpoint_id, version.own)
    scale = version.measure_scale_id
    return thing_of(
        content.CheckpointEntry,
        version,
        code=version.checkpoint_id,
        area=version.area_id,
        cautions=tuple(sorted(caution.code for caution in version.cautions.all())),
        belief=thing_of(content.BeliefEntry, version),
        measure=(
            content.Measure(version.measure_name, version.measure_unit, scale) if scale else None
        ),
        remedies=tuple(
            content.RemedyTrigger(
                trigger.remedy_id, tuple(trigger.probability), tuple(trigger.extent)
            )
            for trigger in version.remedy_triggers.all()
        ),
    )
