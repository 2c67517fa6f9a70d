"""``python -m grading``."""

from grading.cli import main

main()
