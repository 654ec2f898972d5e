"""MusicXML files, plain or compressed, through music21; checked first, because files come from anywhere."""

from __future__ import annotations

import io
import re
import warnings
import zipfile
from pathlib import Path
from typing import TYPE_CHECKING, Any

from everyline.corpora.errors import EverylineError, InputError
from everyline.reading.raw import LARGEST_FILE, Raw, RawNote, one_at_a_time
from everyline.rules.ruleset import Rules

if TYPE_CHECKING:
    from xml.etree.ElementTree import Element

SUFFIXES = (".musicxml", ".xml", ".mxl")
_CONTAINER = "META-INF/container.xml"
MOST = {"bars": 1_000, "staves": 20, "time signatures": 200, "elements of XML": 30_000}
"""What the part that is read may have: music21 takes time with the square of each. The elements are those of
2,000 notes with their stems, beams and fingers."""
LONGEST_METER = 40
"""Characters of a time signature's upper figure, which may be a sum."""


def read(data: bytes, path: Path, rules: Rules) -> Raw:
    """The first part that has notes, in sounding pitch. Raises InputError, in one sentence, for a bad
    file."""
    _require()
    from music21.musicxml.xmlToM21 import MusicXMLImporter

    root = _parse(_text(data, path), path)
    if root.tag != "score-partwise":
        what = "a score in time-wise form" if root.tag == "score-timewise" else f"<{root.tag[:40]}>"
        raise InputError(f"{path}: {what} is not read; save it as partwise MusicXML.")
    others = _one_part(root, path)
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        try:
            importer = MusicXMLImporter()
            # Into the importer's own score: parts of two staves find their way nowhere else.
            importer.xmlRootToScore(root, importer.stream)
            return _raw(importer.stream, others, path, rules)
        except (EverylineError, MemoryError):
            raise
        except Exception as error:  # whatever a stranger's file does, the user gets one sentence
            detail = " ".join(str(error).split())[:120] or type(error).__name__
            raise InputError(
                f"{path}: not MusicXML that can be read ({detail}); save it again from a notation program."
            ) from None


def _require() -> None:
    try:  # imported to see whether they are there
        import defusedxml  # noqa: F401
        import music21  # noqa: F401
    except ImportError:
        raise EverylineError(
            "reading MusicXML needs the packages music21 and defusedxml, which are not installed: "
            'pip install "everyline[read]".'
        ) from None


def _text(data: bytes, path: Path) -> bytes:
    if not data.startswith(b"PK\x03\x04"):
        return data
    try:
        with zipfile.ZipFile(io.BytesIO(data)) as archive:
            if sum(entry.file_size for entry in archive.infolist()) > LARGEST_FILE:
                raise InputError(f"{path}: unpacks to more than {LARGEST_FILE:,} bytes, so hardly one line.")
            return _member(archive, _score_name(archive, path))
    except (EverylineError, MemoryError):
        raise
    except Exception:  # zip, and each kind of compression in it, has errors of its own
        raise InputError(f"{path}: a damaged compressed MusicXML file; save it again.") from None


def _score_name(archive: zipfile.ZipFile, path: Path) -> str:
    """The name of the score in a compressed file: what its container names first."""
    if _CONTAINER in archive.namelist():
        container = _parse(_member(archive, _CONTAINER), path)
        for element in container.iter():
            name = element.get("full-path")
            if element.tag.rpartition("}")[2] == "rootfile" and name:
                return name
    for name in archive.namelist():
        if name.endswith((".musicxml", ".xml")) and not name.startswith("META-INF/"):
            return name
    raise InputError(f"{path}: there is no score in this compressed file; save it again.")


def _member(archive: zipfile.ZipFile, name: str) -> bytes:
    """One member, read no further than any line goes, whatever its header claims."""
    with archive.open(name) as member:
        data = member.read(LARGEST_FILE + 1)
    if len(data) > LARGEST_FILE:
        raise ValueError(name)
    return data


def _parse(data: bytes, path: Path) -> Element:
    """The XML tree, with no entity expanded and nothing fetched."""
    from xml.etree.ElementTree import ParseError

    from defusedxml import DefusedXmlException
    from defusedxml.ElementTree import fromstring

    try:
        root: Element = fromstring(data)
    except DefusedXmlException:
        raise InputError(
            f"{path}: it defines XML entities, which are not read; save it again without."
        ) from None
    except (ParseError, ValueError, LookupError) as error:
        raise InputError(f"{path}: not MusicXML ({error}); save it again from a notation program.") from None
    return root


def _one_part(root: Element, path: Path) -> int:
    """Empty the parts after the first that has notes; answers how many staves with notes were in them.

    What is left is what is read. Raises InputError for more than a line has.
    """
    first, *others = [part for part in root.iter("part") if _staves(part)] or [root]
    staves = sum(map(_staves, others))
    for part in others:
        del part[:]
    # Read, though of no use here, and slowly where there are many.
    for each in root.iter():
        each[:] = [inner for inner in each if inner.tag not in ("harmony", "part-group")]
    found = {name: sum(1 for _ in root.iter(tag)) for name, tag in _COUNTED.items()}
    found |= {"staves": _staves(first), "elements of XML": sum(1 for _ in first.iter())}
    for name, most in MOST.items():
        if found[name] > most:
            raise InputError(
                f"{path}: {found[name]} {name} are more than a line has ({most} at most are read); export "
                "the line alone."
            )
    for beats in root.iter("beats"):
        text = beats.text or ""
        if len(text) > LONGEST_METER or re.search("[0-9]{3}", text):
            raise InputError(
                f"{path}: a bar of {text[:LONGEST_METER]} beats; write bars of 99 beats at most."
            )
    return staves


_COUNTED = {"bars": "measure", "time signatures": "time"}


def _staves(part: Element) -> int:
    """Staves of a part that have notes."""
    return len({note.findtext("staff") for note in part.iter("note") if note.find("pitch") is not None})


def _raw(score: Any, others: int, path: Path, rules: Rules) -> Raw:
    """What is read of a score; ``others`` are the staves with notes that were left out before."""
    remarks: list[str] = []
    parts = [part for part in score.parts if _sounding(part)]
    if not parts:
        raise InputError(f"{path}: there is no note in it; export the part that holds the line.")
    part = parts[0]
    if len(parts) + others > 1:
        name = f', "{part.partName}"' if part.partName else ""
        remarks.append(f"of {len(parts) + others} staves with notes the first{name} was read.")
    if any(instrument.transposition is not None for instrument in part.getInstruments(recurse=True)):
        remarks.append("the part is written for a transposing instrument; it was read as it sounds.")
    part = part.toSoundingPitch()
    _one_voice(part, remarks)
    part = part.stripTies()
    per_quarter = 1 / rules.progression.meter.quarters
    shift = _pickup(part)
    found: list[RawNote] = []
    grace = 0
    for element in _sounding(part):
        if element.duration.isGrace:
            grace += 1
            continue
        onset = float(element.getOffsetInHierarchy(part) - shift) * per_quarter
        length = float(element.quarterLength) * per_quarter
        found.extend(RawNote(onset, length, pitch.midi) for pitch in element.pitches)
    if grace:
        remarks.append(f"{grace} grace note{'s were' if grace > 1 else ' was'} left out.")
    _meter(part, rules, remarks)
    return Raw(one_at_a_time(found, path, remarks), tuple(remarks), played=False)


def _sounding(part: Any) -> list[Any]:
    """Notes and chords with pitches; chord symbols are text above the staff."""
    from music21.harmony import Harmony

    return [each for each in part.recurse().notes if not isinstance(each, Harmony) and each.pitches]


def _one_voice(part: Any, remarks: list[str]) -> None:
    """Keep the first voice of each bar that has several."""
    from music21.stream import Voice

    several = False
    for measure in part.getElementsByClass("Measure"):
        voices = [voice for voice in measure.getElementsByClass(Voice) if _sounding(voice)]
        for voice in voices[1:]:
            measure.remove(voice)
            several = True
    if several:
        remarks.append("where a bar has several voices the first was read.")


def _pickup(part: Any) -> Any:
    """Quarters before the first full bar: the length of a first bar that is not full, else 0."""
    first = next(iter(part.getElementsByClass("Measure")), None)
    if first is None:
        return 0
    if first.paddingLeft:
        return first.barDuration.quarterLength - first.paddingLeft
    return first.highestTime if first.number == 0 else 0


def _meter(part: Any, rules: Rules, remarks: list[str]) -> None:
    meters = {signature.ratioString for signature in part.recurse().getElementsByClass("TimeSignature")}
    ours = str(rules.progression.meter)
    if meters - {ours}:
        remarks.append(
            f"the file is in {', '.join(sorted(meters))} and these rules in {ours}; beats were counted on."
        )
    if any(True for _ in part.recurse().getElementsByClass("RepeatMark")):
        remarks.append("repeats were not played out.")
