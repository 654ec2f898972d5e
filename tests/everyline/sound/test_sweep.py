"""Every progression of the corpus, in all keys and on all instruments: the file reads back as the line."""

from __future__ import annotations

from io import BytesIO

import mido
import pytest

from everyline.rules.pitch import parse_pitch
from everyline.rules.rulefile import parse_rules
from everyline.sound.midi_file import write
from everyline.sound.sound_options import SoundOptions
from everyline.spaces.space import Space
from tests.spaces import CORPUS
from tests.sweeps import sweep

KEYS = "C F Bb Eb Ab Db Gb B E A D G".split()
MINOR = {"Db": "C#", "Gb": "F#", "Ab": "G#"}
"""Minor keys that are written with sharps, since they would need more than seven flats."""
INSTRUMENTS = list(CORPUS.instruments.values())
PROGRESSIONS = list(CORPUS.progressions.values())


@pytest.mark.slow
@pytest.mark.parametrize("key", KEYS[:: sweep(5, 1)])
def test_files_read_back_in_every_key_and_on_every_instrument(key: str) -> None:
    for place, entry in enumerate(PROGRESSIONS[:: sweep(7, 1)]):
        instrument = INSTRUMENTS[(place * len(KEYS) + KEYS.index(key)) % len(INSTRUMENTS)]
        tonic = MINOR.get(key, key) + "m" if entry.key.endswith("m") else key
        rules = parse_rules(
            {
                "changes": entry.numerals,
                "key": tonic,
                "meter": entry.meter,
                # From end to end: within a comfortable range not every key of a form has lines for a voice.
                "range": {
                    "instrument": instrument.name,
                    "lowest": instrument.lowest,
                    "highest": instrument.highest,
                },
                "arpeggio": {"turns": 5},
                "approach": {"count": ["0"]},
                "handoff": {"rule": "any"},
                "ending": {"use": ["plain"]},
            },
            CORPUS,
        )
        space = Space(rules)
        assert space.count > 0, (entry.name, instrument.name)
        line = space.sample(1, place + 1)[0]
        data = write(line, SoundOptions(swing="straight", count_in=0))
        track = mido.MidiFile(file=BytesIO(data)).tracks[1]
        clock, found = 0, []
        for message in track:
            clock += message.time
            if message.type == "note_on":
                found.append((clock, message.note))
        # 960 ticks of the file are a quarter; 480 ticks of a line are a beat.
        scale = 960 * rules.progression.meter.quarters / 480
        assert found == [(note.onset * scale, note.pitch) for note in line.notes]
        low, high = parse_pitch(instrument.lowest), parse_pitch(instrument.highest)
        assert all(low <= pitch <= high for _, pitch in found)
