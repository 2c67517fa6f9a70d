EXAMPLE = {"luminance": 0.6, "colour": 0.8}
ALONE = [{"luminance": 0.5}, {"colour": 0.5}]
