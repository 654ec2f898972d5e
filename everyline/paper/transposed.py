"""A line in other keys: the same shape over the same changes, moved and spelled anew."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

from everyline.paper.instrument_part import Part, Pitch, moved_name, moved_pitch
from everyline.paper.kinds import written_quality
from everyline.rules.analysis import Analysis
from everyline.rules.annotate import AnnotatedLine, annotate
from everyline.rules.chords import Chord, parse_chord
from everyline.rules.line import Event
from everyline.rules.pitch import letter_steps, parse_note_name, parse_pitch
from everyline.rules.progression import Progression
from everyline.rules.ruleset import Rules
from everyline.rules.spelling import PLAIN_NAMES, palette, parse_key, with_octave
from everyline.rules.transpose import CYCLE, key_at_end, keys_in_order, with_symbols


def key_of(line: AnnotatedLine) -> str:
    """The key of a line: the one that its rules state, else that of its last chord (``m`` if minor)."""
    return line.rules.key or key_at_end(line.rules.progression)


def twelve_keys(line: AnnotatedLine) -> Iterator[AnnotatedLine]:
    """The line in all twelve keys round the cycle, beginning with C; only in its own it has its number."""
    for key in keys_in_order(CYCLE, parse_key(key_of(line)).minor):
        yield in_key(line, key)


def in_key(line: AnnotatedLine, key: str) -> AnnotatedLine:
    """The line moved to another key of the same mode, by the shortest way that stays in range.

    The range is the instrument's, or without one that of the rules. Where no way stays in it, the one that
    leaves it least. Raises InputError for a key that is none.
    """
    old, new = parse_key(key_of(line)), parse_key(key)
    up = (parse_note_name(new.tonic) - parse_note_name(old.tonic)) % 12
    semitones = min((up, up - 12, up + 12, up - 24), key=lambda each: (_outside(line, each), abs(each), each))
    steps = letter_steps(old.tonic, new.tonic)
    if semitones == 0 and steps == 0:
        return line if line.rules.key else replace(line, rules=replace(line.rules, key=key))
    rules = moved_rules(line.rules, semitones, steps, key)
    events = tuple(Event(note.onset, note.pitch + semitones, note.length) for note in line.notes)
    analysis = Analysis(tuple(note.role for note in line.notes), line.figures, line.ending)
    return annotate(rules, events, None, analysis)


def _outside(line: AnnotatedLine, semitones: int) -> int:
    """By how many semitones the moved line leaves the range, below and above taken together."""
    instrument = line.rules.instrument
    if instrument is not None:
        low, high = parse_pitch(instrument.lowest), parse_pitch(instrument.highest)
    else:
        low, high = min(line.rules.pitches), max(line.rules.pitches)
    pitches = [note.pitch + semitones for note in line.notes]
    return max(0, low - min(pitches)) + max(0, max(pitches) - high)


def moved_rules(rules: Rules, semitones: int, steps: int, key: str | None) -> Rules:
    """The rules over moved changes, ``steps`` along the staff (0 to 6) for the letters.

    Position, limits and entry belong to the old key and are left out; the line that they made is given.
    """
    endings = tuple(
        replace(
            ending,
            notes=tuple(replace(n, pitch_class=(n.pitch_class + semitones) % 12) for n in ending.notes),
        )
        for ending in rules.endings
    )
    return replace(
        rules,
        progression=moved_progression(rules.progression, semitones, steps, key),
        pitches=frozenset(pitch + semitones for pitch in rules.pitches),
        endings=endings,
        key=key,
        limits=(),
        must_targets=(),
        position=None,
        source="",
    )


def moved_progression(progression: Progression, semitones: int, steps: int, key: str | None) -> Progression:
    """The same changes on moved roots."""
    text = with_symbols(
        progression.text, lambda symbol: moved_chord(parse_chord(symbol), semitones, steps).symbol
    )
    chords = tuple(moved_chord(chord, semitones, steps) for chord in progression.chords)
    return replace(progression, text=text, chords=chords, key=key)


def moved_chord(chord: Chord, semitones: int, steps: int) -> Chord:
    """The chord on a moved root, the rest as it was written."""
    root = moved_name(chord.root, semitones, steps)
    bass = "" if chord.bass is None else "/" + moved_name(chord.bass, semitones, steps)
    return parse_chord(root + written_quality(chord) + bass)


def written_pitches(line: AnnotatedLine, part: Part, steps: int) -> tuple[Pitch, ...]:
    """The written pitch of each note. A name such as B# that moving would bring about, and that the written
    key, chord and scale do not have, gives way to its plain one."""
    key = None if line.rules.key is None else part.written_key(line.rules.key, steps)
    found = []
    for note in line.notes:
        pitch = part.written(note.name, steps)
        name = pitch.name.rstrip("-0123456789")
        if part.semitones and name in PLAIN_NAMES:
            chord = moved_chord(parse_chord(note.chord), part.semitones, steps)
            if name not in palette(chord, None, key).rare:
                pitch = moved_pitch(with_octave(PLAIN_NAMES[name], pitch.midi), 0, 0)
        found.append(pitch)
    return tuple(found)


def as_written(line: AnnotatedLine, part: Part) -> AnnotatedLine:
    """The line with names and chords as its player reads them, for words beside a transposed part."""
    steps = part.steps(line.rules.key, line.rules.progression.chords)
    if part.semitones == 0:
        return line
    semitones = part.semitones
    key = None if line.rules.key is None else part.written_key(line.rules.key, steps)
    progression = moved_progression(line.rules.progression, semitones, steps % 7, key)
    symbols = {
        old.symbol: new.symbol
        for old, new in zip(line.rules.progression.chords, progression.chords, strict=True)
    }
    notes = tuple(
        replace(
            note,
            name=pitch.name,
            pitch=note.pitch + semitones,
            chord=symbols[note.chord],
        )
        for note, pitch in zip(line.notes, written_pitches(line, part, steps), strict=True)
    )
    rules = replace(line.rules, progression=progression, key=key, limits=(), must_targets=(), position=None)
    return replace(line, rules=rules, notes=notes)
