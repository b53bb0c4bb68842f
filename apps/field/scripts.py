"""The phone's scripts as they go over the air: what is only for readers stays at home."""

import re

# Whole lines alone: a comment after code, or within a string, is never guessed at.
LINES = re.compile(r"^[ ]*//.*\n", re.MULTILINE)
INDENTS = re.compile(r"^ +", re.MULTILINE)
BLOCKS = re.compile(r"^[ ]*/\*\*.*?\*/\n", re.MULTILINE | re.DOTALL)


def bare(script: str) -> str:
    """Without comments and indents; at one bar they would be a second of waiting."""
    return INDENTS.sub("", LINES.sub("", BLOCKS.sub("", script)))
