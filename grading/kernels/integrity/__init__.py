"""Walks through compressed streams, which tell whether one is damaged; nothing is decoded."""
