"""Random legal recipes, drawn from the JSON schema; what it cannot say is put right after."""

from grading.recipe.model import model_schema

DEEPEST = 4
"""Masks in one another."""

NOT_DRAWN = (
    "extends", "file", "id", "cameras", "calibrations", "mask", "image", "level", "parallel",
)  # fmt: skip
"""Keys that name files or masks, what camera files hold, which must go together, and lines of a
frame."""


def legal_recipe(random):
    """A mapping that a recipe file may hold."""
    return _mapping(model_schema(), random, 0)


def _draw(node, random, depth):
    if "$ref" in node:
        return _draw(model_schema()["$defs"][node["$ref"].rpartition("/")[2]], random, depth + 1)
    if "anyOf" in node:
        return _draw(random.choice(node["anyOf"]), random, depth)
    if "const" in node:
        return node["const"]
    if "enum" in node:
        return random.choice(node["enum"])
    return _KINDS[node["type"]](node, random, depth)


def _number(node, random, _):
    low, high = node.get("minimum", node.get("exclusiveMinimum")), node["maximum"]
    digits = random.choice((1, 2, 3, 15))
    drawn = random.choice((high, round(random.uniform(low, high), digits)))
    return drawn if low < drawn <= high else high


def _text(node, random, _):
    if "enum" in node:
        return random.choice(node["enum"])
    if ":" in node.get("pattern", ""):
        return random.choice(("3:2", "16:9", "2.39:1"))
    if "pattern" in node:
        return random.choice(("", "2.5", "10", "0")) + random.choice(("R", "GY", "PB"))
    return "".join(random.choice("aé: #'\"\\-\n\t😀\x85\0") for _ in range(random.randrange(12)))


def _list(node, random, depth):
    least = node.get("minItems", 0)
    count = random.randint(least, min(node.get("maxItems", 3), least + 3))
    drawn = [_draw(node["items"], random, depth) for _ in range(count)]
    if node["items"].get("type") == "array" and "minItems" not in node:  # of a curve, rising
        columns = [sorted(set(column)) for column in zip(*drawn, strict=True)]
        return [list(pair) for pair in zip(*columns, strict=False)]
    return drawn


def _mapping(node, random, depth):
    if "properties" not in node:
        names = {_text({}, random, 0) for _ in range(random.randrange(4))}
        return {name: _draw(node["additionalProperties"], random, depth) for name in sorted(names)}
    known = {key: part for key, part in node["properties"].items() if key not in NOT_DRAWN}
    if "gradient" in known:  # a mask: exactly one of its keys
        grow = {"grow": _draw(known.pop("grow"), random, depth)}
        keys = list(known) if depth < DEEPEST else ["gradient", "ellipse"]
        key = random.choice(keys)
        whole = [kind for kind in known[key]["anyOf"] if kind.get("type") != "null"]
        return {key: _draw(whole[0], random, depth)} | (grow if random.random() < 0.3 else {})
    required = node.get("required", ())
    kept = [key for key in known if key in required or random.random() < 0.5]
    return _put_right({key: _draw(known[key], random, depth) for key in kept}, node)


def _is_window(values):
    ends = values.get("above"), values.get("below")
    return ends[0] < ends[1] if None not in ends else ends != (None, None)


def _put_right(values, node):
    for group in node.get("exclusive", ()):
        stated = [key for key in group if values.get(key) is not None]
        for other in stated[1:]:
            del values[other]
    for key, needed in (("duv", "kelvin"), ("chroma", "hue")):
        if values.get(needed) is None:
            values.pop(key, None)
    if "above" in node["properties"] and not _is_window(values):
        values = {key: value for key, value in values.items() if key != "below"} | {"above": 0.1}
    if "none" in values and values["full"] == values["none"]:
        values["none"] = [values["full"][0], values["full"][1] - 0.5]
    points = values.get("points")
    if points and "feather" in node["properties"] and all(each == points[0] for each in points):
        values["points"] = [[0.1 * i, 0.5 if i % 2 else 0.2] for i in range(len(points))]
    for low, high in (("left", "right"), ("top", "bottom")):
        if values.get(high, 1) - values.get(low, 0) < 0.02:
            values.pop(low, None), values.pop(high, None)
    return values


_KINDS = {
    "number": _number,
    "string": _text,
    "array": _list,
    "object": _mapping,
    "integer": lambda node, random, depth: random.randint(node["minimum"], node["maximum"]),
    "boolean": lambda node, random, depth: random.random() < 0.5,
    "null": lambda node, random, depth: None,
}
