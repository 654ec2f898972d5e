"""What a player may choose about sound, as one immutable value."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from everyline.corpora.errors import InputError, did_you_mean
from everyline.sound.feels import BY_FEEL, BY_METER, TWO_FEEL, WALKING, check_feel
from everyline.sound.swing import BY_TEMPO, SLOWEST, Swing, check_tempo, parse_swing

LINE, SECOND, CHORDS, BASS, DRUMS, CLICK = "line", "second", "chords", "bass", "drums", "click"
PARTS = (LINE, SECOND, CHORDS, BASS, DRUMS, CLICK)
"""The parts of a performance; each has a track to itself, and can be muted. The second is there where a line
has a second part."""
BASS_STYLES = (BY_FEEL, WALKING, TWO_FEEL)
COUNT_IN, EVERY_BEAT, BACKBEAT = "count-in", "every-beat", "backbeat"
CLICKS = (COUNT_IN, EVERY_BEAT, BACKBEAT)
MOST_COUNT_IN, MOST_REPEATS, MOST_TEMPI, MOST_SEED = 4, 100, 50, 2**31 - 1
STEPS = {"slow": 0.5, "medium": 0.75, "full": 1.0}
"""Practice tempi, as parts of the tempo that is aimed at."""


@dataclass(frozen=True, slots=True)
class SoundOptions:
    """How lines are played.

    ``tempi`` in beats a minute: each line is played at each of them in turn, so several make a practice
    ladder. ``swing`` is ``by-tempo``, ``straight`` or a ratio of long to short. ``count_in`` is in bars,
    before the first time round or, with ``count_in_each``, before every one. ``repeats`` is how often a line
    is played at one tempo. A ``loop`` has no count-in, and its end leads back to its beginning. ``feel`` is
    one of ``feels.FEELS``, or ``by-meter``: the usual one of the meter and the fastest tempo; a feel that
    does not go with a meter is an error, or with ``feel_gives_way`` makes room for the usual one. ``bass`` is
    by-feel, walking or two-feel. ``seed`` draws the rhythms of the backing, 0 the usual ones; without one it
    is the line's number. ``click`` says where the click goes on after the count-in: nowhere
    (``count-in``), on every beat, or on the backbeat (2 and 4). ``mute`` names parts that are left out; a
    muted click takes the count-in's sound, not its time. ``program`` is the line's General MIDI program,
    1 to 128; without one it is the instrument's, and a guitar's where the rules name no instrument.
    Raises InputError.
    """

    tempi: tuple[float, ...] = (120.0,)
    swing: Swing = BY_TEMPO
    count_in: int = 1
    count_in_each: bool = True
    repeats: int = 1
    feel: str = BY_METER
    feel_gives_way: bool = False
    bass: str = BY_FEEL
    seed: int | None = None
    click: str = COUNT_IN
    mute: frozenset[str] = frozenset()
    program: int | None = None
    loop: bool = False

    def __post_init__(self) -> None:
        """Check every value and bring tempi, swing and muted parts into one form."""
        tempi = tuple(check_tempo(tempo) for tempo in self.tempi)
        if not 1 <= len(tempi) <= MOST_TEMPI:
            raise InputError(f"{len(tempi)} tempi; allowed are 1 to {MOST_TEMPI}.")
        object.__setattr__(self, "tempi", tempi)
        object.__setattr__(self, "swing", parse_swing(self.swing))
        object.__setattr__(self, "mute", frozenset(self.mute))
        if self.loop:
            object.__setattr__(self, "count_in", 0)
        _within("count-in", self.count_in, 0, MOST_COUNT_IN, " bars")
        _within("repeats", self.repeats, 1, MOST_REPEATS)
        if self.program is not None:
            _within("program", self.program, 1, 128)
        if self.seed is not None:
            _within("seed", self.seed, 0, MOST_SEED)
        check_feel(self.feel)
        _one_of("bass", self.bass, BASS_STYLES)
        _one_of("click", self.click, CLICKS)
        for part in sorted(self.mute):
            _one_of("muted part", part, PARTS)

    def plays(self, part: str) -> bool:
        """Whether a part sounds."""
        return part not in self.mute


def _within(name: str, value: int, least: int, most: int, unit: str = "") -> None:
    if not least <= value <= most:
        raise InputError(f"{name} {value}; allowed are {least} to {most}{unit}.")


def _one_of(name: str, value: str, allowed: Iterable[str]) -> None:
    allowed = tuple(allowed)
    if value not in allowed:
        near = did_you_mean(value, allowed)
        raise InputError(f'{name} "{value}"; allowed are {", ".join(allowed)}.{near}')


def practice_tempo(step: str, full: float) -> float:
    """A slow, medium or full tempo in beats a minute, of the one aimed at. Raises InputError.

    A slow tempo that cannot be played is brought up to the slowest that can.
    """
    _one_of("tempo", step, STEPS)
    return max(SLOWEST, check_tempo(full) * STEPS[step])


def ladder(first: float, last: float, steps: int) -> tuple[float, ...]:
    """A practice ladder: so many tempi from the first to the last, evenly spaced, in whole beats a minute
    inside.

    It may lead down as well as up. Raises InputError.
    """
    check_tempo(first)
    check_tempo(last)
    _within("steps", steps, 2, MOST_TEMPI)
    inner = (round(first + (last - first) * step / (steps - 1)) for step in range(1, steps - 1))
    return (float(first), *map(float, inner), float(last))
