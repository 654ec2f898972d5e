"""Roman numerals: chords by their place in a key.

Capitals stand for chords on a major third, small letters for chords on a minor third: ``V7`` is a dominant,
``ii7`` a minor seventh. What follows the numeral is read as in a chord symbol (``Imaj7``, ``iiø7``,
``V7b9``); a small numeral that says minor itself is read once (``iim7``, ``iim7b5``). ``V7/ii`` is the
dominant of ii.

In a major key a numeral counts along the major scale. In a minor key it counts along the natural minor scale
(III, VI and VII of C minor are on Eb, Ab and Bb); a flat before it counts from the major scale of the same
tonic, so that bIII, bVI and bVII name the same roots in both; and a diminished or half-diminished vi or vii
stands on the raised sixth or seventh, as the leading-tone chord does in common practice.

Roots are spelled by their place, but as a lead sheet would: never with a double accidental, and Cb or Fb
only where the signature holds it (bII7 of Bb is B7). A raised root keeps its letter, for it leads up
(E#dim7 to F#).
"""

from __future__ import annotations

import re

from everyline.corpora.errors import InputError, did_you_mean
from everyline.rules.chords import Chord, parse_chord
from everyline.rules.pitch import ACCIDENTALS, ascii_accidentals, letter_above, note_name, parse_note_name
from everyline.rules.spelling import Key, parse_key, plain_name

NUMERALS = ("I", "II", "III", "IV", "V", "VI", "VII")
"""The seven numerals, from the tonic up."""

_EXAMPLES = "ii7, V7, Imaj7, iiø7, bVII7, vi7, i6, V7/ii"
_NUMERAL = r"(bb|##|b|#|)(VII|VI|IV|V|III|II|I|vii|vi|iv|v|iii|ii|i)"
_ROMAN = re.compile(_NUMERAL + r"((?:[0-9(+\-−–oøØ°ºΔ△∆mMsdaj/b#♭♯].*)?)")
_OF = re.compile(r"(.*?)/(" + _NUMERAL + r".*)")
_OWN_MINOR = re.compile(r"m(?!a)|-|−|–|ø|Ø|o|°|º|dim")
_DIMINISHED = re.compile(r"ø|Ø|o|°|º|dim|(?:m|mi|min|-)?7?\(?[b♭-]5")
_LEAD_SHEET = {"Cb": "B", "Fb": "E"}
_MAJOR_SCALE = (0, 2, 4, 5, 7, 9, 11)


def is_roman(token: str) -> bool:
    """Whether a token is a roman numeral rather than a chord symbol."""
    return _ROMAN.fullmatch(_ascii_prefix(token)) is not None


def roman_to_chord(token: str, key: str) -> Chord:
    """The chord of a roman numeral in a key (``Eb``, ``Cm``, ``C minor``). Raises InputError.

    The chord's symbol is spelled out: ``ii7`` in Eb is ``Fm7``.
    """
    return _chord(token, parse_key(key))


def _ascii_prefix(token: str) -> str:
    """The token with the accidental before its numeral in ASCII."""
    text = token.strip()
    head = len(text) - len(text.lstrip("b#♭♯𝄫𝄪"))
    return ascii_accidentals(text[:head]) + text[head:]


def _chord(token: str, key: Key) -> Chord:
    text = _ascii_prefix(token)
    of = _OF.fullmatch(text)
    if of:
        root = _chord(of[2], key).root
        text, key = of[1], Key(root, of[4].islower(), key.fifths)
    found = _ROMAN.fullmatch(text)
    if found is None:
        near = did_you_mean(text, NUMERALS + tuple(n.lower() for n in NUMERALS))
        raise InputError(f'"{token}" is not a roman numeral. Write for example {_EXAMPLES}.{near}')
    accidental, numeral, quality = found.groups()
    quality, slash, bass = _split_bass(quality)
    if numeral.islower() and not _OWN_MINOR.match(quality):
        quality = f"m{quality}"
    root = _root(accidental, numeral, quality, key)
    # Brackets keep an accidental that opens the quality from being read with the root.
    symbol = f"{root}({quality}){slash}{bass}"
    try:
        chord = parse_chord(symbol)
    except InputError as error:
        raise InputError(str(error).replace(f'"{symbol}"', f'"{token}"')) from None
    return parse_chord(chord.name)


def _split_bass(quality: str) -> tuple[str, str, str]:
    """Split a slash bass (``/E``) off a quality; 6/9 is none."""
    found = re.fullmatch(r"(.*)(/)([A-G](?:bb|##|b|#|♭|♯|))", quality)
    return (found[1], found[2], note_name(found[3])) if found else (quality, "", "")


def _root(accidental: str, numeral: str, quality: str, key: Key) -> str:
    """Spelled root of a numeral in a key."""
    place = NUMERALS.index(numeral.upper())
    semitones = _MAJOR_SCALE[place] + ACCIDENTALS[accidental]
    natural_minor = key.minor and place in (2, 5, 6) and not accidental.startswith("b")
    leading = numeral.islower() and place in (5, 6) and not accidental and bool(_DIMINISHED.match(quality))
    if natural_minor and not leading:
        semitones -= 1
    letter = letter_above(key.tonic[0], place)
    wanted = parse_note_name(key.tonic) + semitones
    name = plain_name(letter, (wanted - parse_note_name(letter) + 6) % 12 - 6)
    return _LEAD_SHEET.get(name, name) if name not in key.names else name
