"""The sun and the moon over a place: when an evening's light comes and goes."""
