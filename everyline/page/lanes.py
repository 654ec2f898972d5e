"""What a worker can be asked, and which lane each of these operations takes.

The server reads this table for every request. It stands apart from the operations, so that the server does
not load what only they need.
"""

from __future__ import annotations

COUNT, SHORT, LONG, SET = "count", "short", "long", "set"
"""Lanes: what the screen waits for and is counting alone; what is done in a moment; all the rest; and whole
sets, which may take minutes and have a worker beside all these."""

OPERATIONS: dict[str, tuple[str, str]] = {
    "vocabulary": ("controls", COUNT),
    "corpus_rules": ("controls", COUNT),
    "read_rules": ("rules_view", COUNT),
    "summary": ("rules_view", COUNT),
    "toml": ("rules_view", COUNT),
    "choices": ("choices", LONG),
    "facets": ("choices", LONG),
    "conflicts": ("conflicts_view", LONG),
    "rows": ("lines_view", COUNT),
    "ranked": ("lines_view", LONG),
    "good": ("lines_view", LONG),
    "example": ("examples_view", LONG),
    "line": ("lines_view", COUNT),
    "number": ("lines_view", COUNT),
    "picture": ("lines_view", SHORT),
    "plan": ("plan_view", LONG),
    "onward": ("build_view", COUNT),
    "onward_each": ("build_view", LONG),
    "onward_words": ("build_view", SHORT),
    "begun": ("build_view", SHORT),
    "refusal": ("build_view", SHORT),
    "finished": ("build_view", LONG),
    "check": ("check_view", LONG),
    "check_file": ("check_view", LONG),
    "timing": ("takeaway", SHORT),
    "take": ("takeaway", LONG),
    "sound": ("takeaway", LONG),
    "lesson_read": ("lesson_view", LONG),
    "lesson_move": ("lesson_view", LONG),
    "lesson_write": ("lesson_view", LONG),
    "lesson_take": ("lesson_view", SET),
    "practice_plan": ("practice_view", LONG),
    "practice_lines": ("practice_view", LONG),
    "practice_exercise": ("practice_view", LONG),
    "practice_timing": ("practice_view", SHORT),
    "practice_sound": ("practice_view", LONG),
    "practice_listened": ("practice_view", LONG),
    "practice_heard": ("practice_view", LONG),
    "drill": ("drill_view", SET),
    "drill_sheet": ("drill_view", SET),
}
"""Every operation: the module of this package that holds the function of its name, and the lane that it
takes."""
