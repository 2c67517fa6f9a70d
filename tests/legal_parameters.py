"""Legal values of recipe keys, drawn from the schema that their model gives."""

from hypothesis import strategies as st

NAMES = st.text("abcdefgh ", min_size=1, max_size=6).map(str.strip).filter(bool)
DEEPEST = 3
"""References followed, one inside another, until masks are no longer made of masks."""

NOT_DRAWN = ("cameras", "calibrations", "numbers", "mask", "image", "level", "parallel")
"""Keys that are for frames of one camera or lens only, or name what must be there, and lines, which
a frame must show."""


def legal(model):
    """A strategy for mappings that the model accepts, but for a gradient without direction."""
    schema = model.model_json_schema(by_alias=True)
    return _values(schema, schema.get("$defs", {}), 0)


def _values(schema, definitions, depth):
    if "$ref" in schema:
        return _values(definitions[schema["$ref"].rpartition("/")[2]], definitions, depth + 1)
    if "anyOf" in schema:
        return st.one_of([_values(part, definitions, depth) for part in schema["anyOf"]])
    if "const" in schema:
        return st.just(schema["const"])
    if "enum" in schema:
        return st.sampled_from(schema["enum"])
    return _KINDS[schema["type"]](schema, definitions, depth)


def _numbers(schema, *_):
    above = "exclusiveMinimum" in schema
    low, high = schema["exclusiveMinimum" if above else "minimum"], schema["maximum"]
    inside = st.floats(low, high, exclude_min=above, allow_subnormal=False)
    return st.one_of(st.sampled_from([float(high)] if above else [float(low), float(high)]), inside)


def _strings(schema, *_):
    if "enum" in schema:
        return st.sampled_from(schema["enum"])
    if "pattern" not in schema:
        return st.none()  # titles, and files, which are not drawn
    return st.from_regex(schema["pattern"], fullmatch=True).filter(_is_hue)


def _is_hue(text):
    step = text.rstrip("RYGBP")
    return ":" in text or not step or float(step) <= 10


def _lists(schema, definitions, depth):
    item = schema["items"]
    if item.get("type") == "array" and "minItems" not in schema:
        return _rising_pairs(item)
    least = schema.get("minItems", 0)
    most = min(schema.get("maxItems", 2), least + 3)
    drawn = st.lists(_values(item, definitions, depth), min_size=least, max_size=most)
    return drawn.filter(_lie_apart) if item.get("type") == "array" else drawn


def _lie_apart(points):
    return any(max(column) - min(column) > 1e-3 for column in zip(*points, strict=True))


def _rising_pairs(item):
    """Pairs that rise in both numbers."""

    def rising(columns):
        return [list(pair) for pair in zip(*(sorted(set(c)) for c in columns), strict=False)]

    number = item["items"]
    hundredths = st.integers(int(100 * number["minimum"]), int(100 * number["maximum"]))
    column = st.lists(hundredths.map(lambda n: n / 100), max_size=5)
    return st.tuples(column, column).map(rising)


def _mappings(schema, definitions, depth):
    if "properties" not in schema:
        inner = _values(schema["additionalProperties"], definitions, depth)
        return st.dictionaries(NAMES, inner, min_size=1, max_size=3)
    optional = {
        key: _values(part, definitions, depth)
        for key, part in schema["properties"].items()
        if (depth < DEEPEST or key not in ("all", "any", "not")) and key not in NOT_DRAWN
    }
    required = {key: optional.pop(key) for key in schema.get("required", ())}
    groups = schema.get("exclusive", ())
    if "gradient" in schema["properties"]:  # a mask: exactly one of its keys, and perhaps grow
        grow = optional.pop("grow")
        one = st.one_of([_one(key, values) for key, values in optional.items()])
        return st.builds(lambda mask, by: mask | {"grow": by}, one, grow)
    drawn = st.fixed_dictionaries(required, optional=optional)
    if "above" in optional:
        return drawn.map(_window)
    return drawn.map(lambda values: _first_of_each_group(values, groups))


def _one(key, values):
    return values.filter(lambda value: value is not None).map(lambda value: {key: value})


def _first_of_each_group(values, groups):
    values = {key: value for key, value in values.items() if value is not None}
    for group in groups:
        for other in [key for key in group if key in values][1:]:
            del values[other]
    if "duv" in values and "kelvin" not in values:
        del values["duv"]
    if "hue" not in values:
        values.pop("chroma", None)
    for low, high in (("left", "right"), ("top", "bottom")):
        if values.get(high, 1) - values.get(low, 0) < 0.02:
            values.pop(low, None), values.pop(high, None)
    return values


def _window(values):
    """With an end, and the two in order."""
    values = {key: value for key, value in values.items() if value is not None}
    if "below" not in values:
        return {"above": 0.1} | values
    if values.get("above", -1e9) >= values["below"]:
        del values["above"]
    return values


_KINDS = {
    "number": _numbers,
    "string": _strings,
    "array": _lists,
    "object": _mappings,
    "integer": lambda schema, *_: st.integers(schema["minimum"], schema["maximum"]),
    "boolean": lambda *_: st.booleans(),
    "null": lambda *_: st.none(),
}
