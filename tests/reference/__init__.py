"""A second, plain solver written from the rules alone, to hold the real one against.

Nothing here imports the program, and nothing here is fast.  Every rule stands beside the
sentence that it carries out, so that a disagreement can be settled by reading.
"""

from tests.reference.count import count
from tests.reference.result import Result, roughness, solve

__all__ = ["Result", "count", "roughness", "solve"]
