"""Lenses: what their errors are, in numbers, and where these numbers are known from."""
