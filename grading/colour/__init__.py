"""Colour: spaces, curves, white points, adaptation, cameras, differences, profiles, hue names.

Constants and set-up arithmetic in float64; nothing here touches a picture's pixels.
"""
