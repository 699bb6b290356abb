"""How content is laid out in rows, and how rows read back as content."""

from dataclasses import asdict
from typing import Any

from apps.catalogue import content, models
from apps.catalogue.content import ThreePoints
from apps.catalogue.own.kinds import checkpoint_read

POINTS = ("low", "likely", "high")

# What a checkpoint's version stores under the name it has in the content.
PLAIN = (
    "title",
    "position",
    "look",
    "weight",
    "walk_away_level",
    "professional",
    "professional_from",
    "professional_only",
    "receipt_clears",
    "source",
    "place",
    "priority",
    "minutes",
    "ask",
)
LISTS = ("tools", "levels", "concerns", "prevented_by", "hampered_by", "tags")


def points(name: str, three: ThreePoints) -> dict[str, float]:
    return {f"{name}_{point}": getattr(three, point) for point in POINTS}


def three_points(row: Any, name: str) -> ThreePoints:
    return ThreePoints(*(getattr(row, f"{name}_{point}") for point in POINTS))


def money_row(money: content.Money) -> dict[str, Any]:
    return {
        **asdict(money.basis),
        "price_index": money.price_index,
        **points("yard_rate", money.yard_rate),
    }


def money_of(edition: models.Edition) -> content.Money:
    return content.Money(
        basis=content.Basis(edition.base_year, edition.currency, edition.reference_loa_m),
        yard_rate=three_points(edition, "yard_rate"),
        # JSON has text for keys.
        price_index={int(year): index for year, index in edition.price_index.items()},
    )


def area_of(row: models.Area) -> content.Area:
    return content.Area(row.code, row.title, row.position)


def caution_of(row: models.Caution) -> content.Caution:
    return content.Caution(row.code, row.title, row.text, row.defer_to)


def scale_of(row: models.Scale) -> content.Scale:
    return content.Scale(
        code=row.code,
        title=row.title,
        unit=row.unit,
        rising=row.rising,
        lowest=row.lowest,
        highest=row.highest,
        breaks=tuple(row.breaks),
        grades=tuple(content.Grade(**grade) for grade in row.grades),
        source=row.source,
    )


def fee_row(fee: content.Fee) -> dict[str, Any]:
    return {
        "code": fee.code,
        "title": fee.title,
        "per": fee.per,
        "source": fee.source,
        **asdict(fee.cost),
    }


def fee_of(row: models.Fee | models.RunningCost) -> content.Fee:
    cost = ThreePoints(row.low, row.likely, row.high)
    return content.Fee(row.code, row.title, cost, row.per, row.source)


def priced_row(thing: content.Enabling | content.Remedy) -> dict[str, Any]:
    return {
        "title": thing.title,
        "loa_exponent": thing.loa_exponent,
        "confidence": thing.confidence,
        "source": thing.source,
        **points("hours", thing.hours),
        **points("parts", thing.parts),
    }


def priced_of(row: models.Enabling | models.RemedyVersion) -> dict[str, Any]:
    return {
        "title": row.title,
        "loa_exponent": row.loa_exponent,
        "confidence": row.confidence,
        "source": row.source,
        "hours": three_points(row, "hours"),
        "parts": three_points(row, "parts"),
    }


def enabling_of(row: models.Enabling) -> content.Enabling:
    return content.Enabling(code=row.code, **priced_of(row))


def remedy_row(remedy: content.Remedy) -> dict[str, Any]:
    return {
        "area_id": remedy.area,
        "count": remedy.count,
        "own_work": remedy.own_work,
        "own_hours_factor": remedy.own_hours_factor,
        "urgency": remedy.urgency,
        "by_price": remedy.by_price,
        "variants": [asdict(variant) for variant in remedy.variants],
        **priced_row(remedy),
    }


def remedy_of(version: models.RemedyVersion) -> content.Remedy:
    return content.Remedy(
        code=version.remedy_id,
        area=version.area_id,
        count=version.count,
        enabling=tuple(sorted(enabling.code for enabling in version.enabling.all())),
        own_work=version.own_work,
        own_hours_factor=version.own_hours_factor,
        urgency=version.urgency,
        by_price=version.by_price,
        variants=tuple(variant_of(each) for each in version.variants),
        **priced_of(version),
    )


def variant_of(stored: dict[str, Any]) -> content.Variant:
    return content.Variant(
        applies={name: tuple(values) for name, values in stored["applies"].items()},
        hours=ThreePoints(**stored["hours"]),
        parts=ThreePoints(**stored["parts"]),
    )


def checkpoint_row(checkpoint: content.Checkpoint) -> dict[str, Any]:
    measure = checkpoint.measure
    return {
        "area_id": checkpoint.area,
        "applies": checkpoint.applies,
        "measure_name": measure.name if measure else "",
        "measure_unit": measure.unit if measure else "",
        "measure_scale_id": measure.scale if measure else None,
        **asdict(checkpoint.belief),
        **{name: getattr(checkpoint, name) for name in PLAIN + LISTS},
    }


def checkpoint_of(version: models.CheckpointVersion) -> content.Checkpoint:
    if version.own is not None:  # its owner's words name things of the owner's, which have no rows
        return checkpoint_read(version.checkpoint_id, version.own)
    scale = version.measure_scale_id
    as_stored: dict[str, Any] = {name: getattr(version, name) for name in PLAIN}
    as_stored |= {name: tuple(getattr(version, name)) for name in LISTS}
    return content.Checkpoint(
        code=version.checkpoint_id,
        area=version.area_id,
        cautions=tuple(sorted(caution.code for caution in version.cautions.all())),
        belief=content.Belief(
            mu=version.mu,
            age=version.age,
            care=version.care,
            sd=version.sd,
            ages_with=version.ages_with,
            breakage=version.breakage,
        ),
        applies={name: tuple(values) for name, values in version.applies.items()},
        measure=(
            content.Measure(version.measure_name, version.measure_unit, scale) if scale else None
        ),
        remedies=tuple(
            content.RemedyCall(call.remedy_id, tuple(call.probability), tuple(call.extent))
            for call in version.remedy_calls.all()
        ),
        **as_stored,
    )
