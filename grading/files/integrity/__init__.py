"""Checks for damage that decoders pass over in silence; each walks a compressed stream."""
