"""The shape of the catalogue's files as JSON Schema (draft 2020-12).

An array's `title` says what it counts, for the messages of reading.py.
"""

from typing import Any

from apps.catalogue import content

Schema = dict[str, Any]


def text(longest: int = 200) -> Schema:
    return {"type": "string", "minLength": 1, "maxLength": longest}


def word(*words: str) -> Schema:
    return {"enum": list(words)}


def number(lowest: float, highest: float) -> Schema:
    return {"type": "number", "minimum": lowest, "maximum": highest}


def whole(lowest: int, highest: int) -> Schema:
    return {"type": "integer", "minimum": lowest, "maximum": highest}


def list_of(items: Schema, title: str = "entries", **bounds: Any) -> Schema:
    return {"type": "array", "title": title, "items": items, **bounds}


def exactly(count: int, items: Schema, title: str) -> Schema:
    return list_of(items, title, minItems=count, maxItems=count)


def table(required: Schema, optional: Schema | None = None) -> Schema:
    return {
        "type": "object",
        "required": list(required),
        "properties": {**required, **(optional or {})},
        "additionalProperties": False,
    }


CODE = {"type": "string", "pattern": r"^[a-z0-9]+(-[a-z0-9]+)*$", "maxLength": 60}
CODES = list_of(CODE, "codes", uniqueItems=True)
BOOLEAN = {"type": "boolean"}
POSITION = whole(1, 10_000)
AMOUNT = number(0, 1e6)
THREE_POINTS = exactly(3, AMOUNT, "numbers (low, likely, high)")
SOURCE = text(400)


def scaling(*by: str) -> Schema:
    return {
        "type": "object",
        "required": ["by"],
        "properties": {"by": word(*by), "exponent": number(0, 3)},
        "additionalProperties": False,
        # Length needs its exponent; what grows with the price, or not at all, has none.
        "if": {"properties": {"by": {"const": "loa"}}},
        "then": {"required": ["exponent"]},
        "else": {"maxProperties": 1},
    }


PRICED = {
    "code": CODE,
    "title": text(),
    "hours": THREE_POINTS,
    "parts": THREE_POINTS,
    "scale": scaling("loa", "none"),
    "confidence": word(*content.CONFIDENCES),
    "source": SOURCE,
}
APPLIES = table(
    {},
    {
        name: list_of(word(*values), "values", minItems=1, uniqueItems=True)
        for name, values in content.PARTICULARS.items()
    },
)
VARIANT = table(
    {
        "applies": {**APPLIES, "minProperties": 1},
        "hours": THREE_POINTS,
        "parts": THREE_POINTS,
    }
)
REMEDY = table(
    {
        **PRICED,
        "scale": scaling("loa", "price", "none"),
        "area": CODE,
        "enabling": CODES,
        "own_work": BOOLEAN,
        "urgency": word(*content.URGENCIES),
    },
    {"count": text(60), "own_hours_factor": number(1, 5), "variants": list_of(VARIANT, "variants")},
)

# Of a checkpoint: the files say it of each; what a club or a group leaves out is as beneath.
WHERE_AND_WHEN = {
    "place": word(*content.PLACES),
    "priority": whole(min(content.PRIORITIES), max(content.PRIORITIES)),
    "minutes": whole(1, 60),
}
CHECKPOINT = table(
    {
        "code": CODE,
        "title": text(),
        "position": POSITION,
        "look": text(600),
        "levels": exactly(len(content.LEVELS), text(300), "descriptions"),
        "concerns": list_of(word(*content.CONCERNS), "concerns", minItems=1, uniqueItems=True),
        "weight": number(0.5, 5),
        "professional": word("", *content.PROFESSIONALS),
        "professional_from": whole(0, 4),
        "professional_only": BOOLEAN,
        "belief": table(
            {
                "mu": number(-2, 4),
                "age": number(0, 2),
                "care": number(0, 2),
                "sd": number(0.2, 3),
                "ages_with": word(*content.AGES_WITH),
            },
            {"breakage": number(0, 0.5)},
        ),
        "source": SOURCE,
        **WHERE_AND_WHEN,
    },
    {
        "ask": text(300),
        "hampered_by": list_of(word(*content.REASONS), "reasons", uniqueItems=True),
        "tools": list_of(text(60), "tools", uniqueItems=True),
        "walk_away_level": whole(1, 4),
        "receipt_clears": BOOLEAN,
        "cautions": CODES,
        "prevented_by": list_of(word(*content.REASONS), "reasons", uniqueItems=True),
        "applies": APPLIES,
        "measure": table({"name": text(60), "unit": text(20), "scale": CODE}),
        "remedies": list_of(
            table(
                {
                    "code": CODE,
                    "probability": exactly(len(content.LEVELS), number(0, 1), "numbers"),
                    "extent": exactly(len(content.LEVELS), number(0, 1000), "numbers"),
                }
            )
        ),
        "tags": list_of(text(60), "tags", uniqueItems=True),
    },
)

SCALE = table(
    {
        "code": CODE,
        "title": text(),
        "unit": text(20),
        "range": exactly(2, {"type": "number"}, "numbers (lowest, highest)"),
        "breaks": exactly(len(content.LEVELS) - 1, {"type": "number"}, "numbers"),
        "source": SOURCE,
    },
    {
        "rising": BOOLEAN,
        "grades": list_of(
            table({"standard": text(60), "grade": text(60), "value": {"type": "number"}})
        ),
    },
)

CAUTION = table({"code": CODE, "title": text(), "text": text(1000), "defer_to": text(300)})


def fee(bases: tuple[str, ...]) -> Schema:
    return table(
        {
            "code": CODE,
            "title": text(),
            "low": AMOUNT,
            "likely": AMOUNT,
            "high": AMOUNT,
            "per": word(*bases),
            "source": SOURCE,
        }
    )


AREA_FILE = table(
    {
        "area": CODE,
        "title": text(),
        "position": POSITION,
        "checkpoint": list_of(CHECKPOINT, "checkpoints", minItems=1),
    }
)

FILES: dict[str, Schema] = {
    "remedies.toml": table(
        {
            "base_year": whole(1900, 2200),
            "currency": {"type": "string", "pattern": "^[A-Z]{3}$"},
            "reference_loa_m": number(1, 100),
            "yard_rate": THREE_POINTS,
            "remedy": list_of(REMEDY),
        }
    ),
    "enabling.toml": table({"enabling": list_of(table(PRICED))}),
    "cautions.toml": table({"caution": list_of(CAUTION)}),
    "scales.toml": table({"scale": list_of(SCALE)}),
    "purchase.toml": table({"fee": list_of(fee(content.FEE_BASES))}),
    "running.toml": table({"running": list_of(fee(content.RUNNING_BASES))}),
    "price_index.toml": table(
        {
            "code": CODE,
            "title": text(),
            "source": SOURCE,
            "annual": {
                "type": "object",
                "patternProperties": {"^[0-9]{4}$": number(0.001, 1e9)},
                "additionalProperties": False,
                "minProperties": 1,
            },
        }
    ),
}
