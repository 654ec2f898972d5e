"""Guide tones (third and seventh) through the changes, as method pages print them."""

import pytest

from everyline.rules.chords import Chord, parse_chord
from everyline.rules.spelling import spell


def guide_tones(chord: Chord) -> set[str]:
    """Spelled third and seventh of a seventh chord."""
    wanted = {"3", "b3", "7", "b7", "bb7"}
    tones = [tone for tone, degree in zip(chord.tones, chord.degrees, strict=True) if degree in wanted]
    return {spell(60 + chord.root_class + tone, chord).rstrip("0123456789") for tone in tones}


@pytest.mark.parametrize(
    ("changes", "one_voice", "other_voice"),
    [
        # Guide-tone pages of published method sites: F F E and C B B.
        ("Dm7 G7 Cmaj7", "F F E", "C B B"),
        # Guitar Player, "Guide-Tone Magic": D falls to C#, G (held over A7b9) to F. The last C is ours.
        ("Em7b5 A7b9 Dm7", "D C# C", "G G F"),
    ],
)
def test_guide_tones_move_as_printed(changes: str, one_voice: str, other_voice: str) -> None:
    voices = list(zip(one_voice.split(), other_voice.split(), strict=True))
    for symbol, voice in zip(changes.split(), voices, strict=True):
        assert guide_tones(parse_chord(symbol)) == set(voice)
