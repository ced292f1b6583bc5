"""JSON Schemas of the documents: what msgspec makes of the types, corrected where the types alone say too little."""

from collections.abc import Callable, Iterable, Iterator, Mapping
from inspect import cleandoc
from typing import Any, NamedTuple

import msgspec

Json = dict[str, Any]
GREATEST = 1e12
"""No number on the wire is beyond it, in either direction."""


class Schemas(NamedTuple):
    """The components of a document, and the schema that stands where a type is used."""

    components: Json
    schema_of: Callable[[Any], Json]


def components_of(types: Iterable[Any]) -> Schemas:
    """The schemas of these types and of all that is in them."""
    listed = list(types)
    used, components = msgspec.json.schema_components(
        listed, ref_template="#/components/schemas/{name}", schema_hook=_any_json_schema
    )
    by_type = {_key(each): _corrected(schema) for each, schema in zip(listed, used, strict=True)}
    corrected = {name: _with_number_bounds(_corrected(components[name])) for name in sorted(components)}
    for name, alternatives in _ONE_OF.items():
        corrected[name]["oneOf"] = alternatives
    return Schemas(corrected, lambda of: by_type[_key(of)])


def _any_json_schema(of: type) -> Json:
    """The schema of a value that may be any JSON."""
    if of is not object:
        raise TypeError(of)
    return {"description": "Any JSON."}


def _key(of: object) -> str:
    return repr(of)


def _corrected(schema: object) -> Any:  # JSON
    """Patterns as JSON Schema writes them, `oneOf` where a word tells objects apart, descriptions without indentation."""
    if isinstance(schema, list):
        return [_corrected(each) for each in schema]
    if not isinstance(schema, dict):
        return schema
    made = {key: _corrected(value) for key, value in schema.items() if key != "title" or not isinstance(value, str)}
    if isinstance(made.get("pattern"), str):
        made["pattern"] = made["pattern"].replace(r"\Z", "$")
    if isinstance(made.get("description"), str):
        # A docstring's indentation is left in by msgspec 0.22 and taken out by 0.23.
        made["description"] = cleandoc(made["description"])
    if "discriminator" in made:
        made["oneOf"] = made.pop("anyOf")
    return made


def _with_number_bounds(schema: Json) -> Json:
    """What is sent to us has only numbers within bounds; what we send may have others."""
    if schema.get("additionalProperties") is False:
        for number in _numbers_in(schema):
            number.setdefault("maximum", GREATEST)
            if "exclusiveMinimum" not in number:
                number.setdefault("minimum", -GREATEST)
    return schema


def _numbers_in(schema: object) -> Iterator[Json]:
    """All schemas of numbers in a schema."""
    if isinstance(schema, list):
        for each in schema:
            yield from _numbers_in(each)
    elif isinstance(schema, dict):
        if schema.get("type") == "number":
            yield schema
        for each in schema.values():
            yield from _numbers_in(each)


_BOUNDING = ("lower", "upper", "above", "below")
_ONE_OF: Mapping[str, list[Json]] = {
    "Limits": [
        {
            "description": "One or two sides.",
            "anyOf": [{"required": [name]} for name in _BOUNDING],
            "not": {
                "anyOf": [
                    *({"required": [name]} for name in ("nominal", "minus", "plus", "tolerance")),
                    {"required": ["lower", "above"]},
                    {"required": ["upper", "below"]},
                ]
            },
        },
        {
            "description": "A nominal with tolerances; the side that is left out is open.",
            "required": ["nominal", "tolerance"],
            "anyOf": [{"required": ["minus"]}, {"required": ["plus"]}],
            "not": {"anyOf": [{"required": [name]} for name in _BOUNDING]},
        },
    ],
    "Rounding": [
        {"description": "To the nearest multiple.", "required": ["ties"], "not": {"required": ["toward"]}},
        {"description": "Always toward one side.", "required": ["toward"], "not": {"required": ["ties"]}},
    ],
    "Uncertainty": [
        {"description": "In the characteristic's unit.", "required": ["expanded"], "not": {"required": ["percent"]}},
        {"description": "In percent of the value.", "required": ["percent"], "not": {"required": ["expanded"]}},
    ],
    "ReadingToCheck": [
        {
            "description": "Against a grade, by the revision in force or by the one named.",
            "required": ["grade"],
            "not": {"required": ["lot"]},
        },
        {
            "description": "Of a lot, by its own revision.",
            "required": ["lot"],
            "not": {"anyOf": [{"required": ["grade"]}, {"required": ["revision"]}]},
        },
    ],
    "InstrumentUncertainty": [
        {"description": "In its unit.", "required": ["expanded"], "not": {"required": ["percent"]}},
        {"description": "In percent of the value.", "required": ["percent"], "not": {"required": ["expanded"]}},
    ],
    "Dependent": [
        {
            "description": description,
            "required": [name],
            "not": {"anyOf": [{"required": [other]} for other in ("of_declared", "of_mean", "of_limit") if other != name]},
        }
        for name, description in (
            ("of_declared", "Of a declared number."),
            ("of_mean", "Of the mean of a characteristic."),
            ("of_limit", "Of the limit of another requirement."),
        )
    ],
    "Row": [
        {"description": "For sizes up to this one.", "required": ["up_to"], "not": {"required": ["at"]}},
        {"description": "At this very size; on straight lines between.", "required": ["at"], "not": {"required": ["up_to"]}},
    ],
    "Allowed": [
        {"description": "So many values.", "required": ["count"], "not": {"required": ["percent"]}},
        {
            "description": "So many of the values that are in, rounded down.",
            "required": ["percent"],
            "not": {"required": ["count"]},
        },
    ],
    "Against": [
        {
            "description": "A grade, by the revision in force or by the one named.",
            "required": ["grade"],
            "not": {"required": ["specification"]},
        },
        {
            "description": "A specification as it stands.",
            "required": ["specification"],
            "not": {"anyOf": [{"required": ["grade"]}, {"required": ["revision"]}]},
        },
    ],
}
