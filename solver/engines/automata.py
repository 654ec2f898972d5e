"""Rules that read a line note by note, written out as finite automata: every step, in numbers."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from everyline.rules.acceptor import Acceptor, State
from everyline.rules.line import Note

MOST_STEPS = 200_000

Step = tuple[int, int, int]
"""(state, symbol read, next state), all as small integers."""

Layers = tuple[tuple[Step, ...], ...]
"""For each place in a line the steps that may be made there; a line is accepted when it makes one at each."""


class TooManySteps(Exception):
    """A rule has more steps than are written out."""


Alphabet = Sequence[Mapping[int, Note]]
"""For each place in the line the notes that may sound there, by pitch."""

Followers = Sequence[Mapping[int, Sequence[int]]]
"""For each place in the line but the last the pitches that may come next, by pitch."""


Node = tuple[int | None, State]
"""Where the reading of a line stands: the last pitch (None before the first), and the rule's state."""


def tabulate(rule: Acceptor, alphabet: Alphabet, followers: Followers, most: int = MOST_STEPS) -> Layers:
    """A rule's steps for lines of this alphabet, by place, with pitches as symbols and 0 as first state.

    The places are empty where it accepts no line. Only states that some line reaches and from which some line
    can be finished are kept. Raises TooManySteps when more than ``most`` steps are reached.
    """
    layers = _read(rule, alphabet, followers, most)
    alive = {head for _, head in layers[-1] if rule.content(head[1])}
    numbers: dict[tuple[int, State], int] = {}

    def number(place: int, state: State) -> int:
        return numbers.setdefault((place, state), len(numbers) + 1) if place else 0

    steps: list[set[Step]] = [set() for _ in layers]
    for place in reversed(range(len(layers))):
        kept = [(tail, head) for tail, head in layers[place] if head in alive]
        for (_, state), (pitch, after) in kept:
            assert pitch is not None  # only a tail before the first note has none
            steps[place].add((number(place, state), pitch, number(place + 1, after)))
        alive = {tail for tail, _ in kept}
    return tuple(tuple(sorted(each)) for each in steps)


def _read(
    rule: Acceptor, alphabet: Alphabet, followers: Followers, most: int
) -> list[list[tuple[Node, Node]]]:
    """Every step that some line makes, note by note."""
    layers: list[list[tuple[Node, Node]]] = []
    nodes: set[Node] = {(None, rule.start())}
    total = 0
    for place, notes in enumerate(alphabet):
        layer: list[tuple[Node, Node]] = []
        for node in nodes:
            last, state = node
            for pitch in notes if last is None else followers[place - 1].get(last, ()):
                after = rule.step(state, notes[pitch])
                if after is not None:
                    layer.append((node, (pitch, after)))
            if total + len(layer) > most:
                raise TooManySteps
        total += len(layer)
        layers.append(layer)
        nodes = {head for _, head in layer}
    return layers
