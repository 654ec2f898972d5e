"""The moves of a line: one file each, and the table that everything else loops over.

A move knows when it may begin, which pitches it plays from a chord tone, and what the rules remember after it.
Nothing else in the program states how a note may follow another.
"""

from everyline.rules.moves.base import Bounds, Ground, Move, grounds
from everyline.rules.moves.roles import ROLES, UNEXPLAINED, Role
from everyline.rules.moves.table import landing_role, move_table

__all__ = ["ROLES", "UNEXPLAINED", "Bounds", "Ground", "Move", "Role", "grounds", "landing_role", "move_table"]
