"""Legal parameters of a stage, drawn from the schema that its model gives."""

from hypothesis import strategies as st


def legal(model):
    """A strategy for mappings that the model accepts."""
    schema = model.model_json_schema(by_alias=True)
    return _values(schema, schema.get("$defs", {}))


def _values(schema, definitions):
    if "$ref" in schema:
        return _values(definitions[schema["$ref"].rpartition("/")[2]], definitions)
    if "anyOf" in schema:
        return st.one_of([_values(part, definitions) for part in schema["anyOf"]])
    if "const" in schema:
        return st.just(schema["const"])
    return _KINDS[schema["type"]](schema, definitions)


def _numbers(schema, definitions):
    low, high = schema["minimum"], schema["maximum"]
    inside = st.floats(low, high, allow_subnormal=False)
    return st.one_of(st.sampled_from([float(low), float(high)]), inside)


def _strings(schema, definitions):
    if "pattern" not in schema:
        return st.none()  # files, which are not drawn
    return st.from_regex(schema["pattern"], fullmatch=True).filter(_is_hue)


def _is_hue(text):
    step = text.rstrip("RYGBP")
    return not step or float(step) <= 10


def _lists(schema, definitions):
    item = schema["items"]
    if item.get("type") == "array":
        return _rising_pairs(item, definitions)
    size = (schema.get("minItems", 0), schema.get("maxItems", 4))
    return st.lists(_values(item, definitions), min_size=size[0], max_size=size[1])


def _rising_pairs(item, definitions):
    """Pairs that rise in both numbers."""

    def rising(columns):
        return [list(pair) for pair in zip(*(sorted(set(c)) for c in columns), strict=False)]

    number = item["items"]
    hundredths = st.integers(int(100 * number["minimum"]), int(100 * number["maximum"]))
    column = st.lists(hundredths.map(lambda n: n / 100), max_size=5)
    return st.tuples(column, column).map(rising)


def _mappings(schema, definitions):
    if "properties" not in schema:
        inner = _values(schema["additionalProperties"], definitions)
        return st.dictionaries(st.sampled_from(["one", "two", "three"]), inner, max_size=3)
    optional = {key: _values(part, definitions) for key, part in schema["properties"].items()}
    required = {key: optional.pop(key) for key in schema.get("required", ())}
    exclusive = schema.get("exclusive", ())
    drawn = st.fixed_dictionaries(required, optional=optional)
    return drawn.map(lambda values: _first_of_each_group(values, exclusive))


def _first_of_each_group(values, exclusive):
    values = {key: value for key, value in values.items() if value is not None}
    for group in exclusive:
        for other in [key for key in group if key in values][1:]:
            del values[other]
    if "duv" in values and "kelvin" not in values:
        del values["duv"]
    if "hue" not in values:
        values.pop("chroma", None)
    return values


_KINDS = {
    "number": _numbers,
    "string": _strings,
    "array": _lists,
    "object": _mappings,
    "boolean": lambda schema, definitions: st.just(True),
    "null": lambda schema, definitions: st.none(),
}
