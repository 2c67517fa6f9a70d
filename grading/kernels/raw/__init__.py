"""Loops of raw development, which `grading.develop` calls in their order."""
