"""Writes a student's file: one HTML document with everything in it.

Its policy allows nothing to be loaded from anywhere, and no script but its own. Sound is made in the browser
from the notes: a recording of every exercise at one tempo would be some hundred times as large, and a student
could not slow it down; the notes of an exercise are a few kilobytes and play at any tempo.
"""

from __future__ import annotations

import base64
import hashlib
import html
import json
import re
from collections import Counter
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, field, replace
from importlib import resources
from pathlib import Path
from typing import Any

from everyline.corpora.errors import InputError
from everyline.files.writing import writing
from everyline.paper.heading import CAUTION
from everyline.paper.look import STROKE, roles_of
from everyline.paper.picture import PictureOptions, svg
from everyline.paper.score_options import ScoreOptions
from everyline.paper.sheet import SheetExercise
from everyline.paper.signs import readable
from everyline.paper.two_parts import SecondStaff
from everyline.rules.annotate import AnnotatedLine
from everyline.sound.performance import perform
from everyline.sound.sound_options import BASS, CHORDS, CLICK, DRUMS, LINE, SECOND, SoundOptions

WIDE, NARROW = 180.0, 96.0
"""Widths of the music in millimetres, on a desk and on a phone."""
PARTS = (LINE, CHORDS, BASS, DRUMS, CLICK, SECOND)
PART_WORDS = ((0, "Line"), (5, "Second part"), (1, "Chords"), (2, "Bass"), (3, "Drums"), (4, "Click"))
CONCERT = "the same at concert pitch"
SLOWEST, FASTEST = 40, 240


@dataclass(frozen=True, slots=True)
class HandoutOptions:
    """How the file looks and sounds: what the ``score`` shows, in ``colour`` or black, and the tempo and the
    backing that the student finds set."""

    score: ScoreOptions = field(default_factory=ScoreOptions)
    colour: bool = True
    sound: SoundOptions = field(default_factory=SoundOptions)


def handout(
    title: str,
    exercises: Iterable[SheetExercise],
    remark: str = "",
    options: HandoutOptions | None = None,
) -> bytes:
    """Exercises as one HTML file, each with its music, its sound and, where there is one, its answer on
    demand. Raises InputError where there is no exercise or one cannot be drawn as asked."""
    made = _Handout(options or HandoutOptions())
    articles = [made.article(number, each) for number, each in enumerate(exercises, 1)]
    if not articles:
        raise InputError("there is no exercise to write; choose one line at least.")
    return _document(title or "Exercises", remark, articles, made).encode()


def write_handout(out: Path | str, content: bytes) -> None:
    """Write a student's file, whole or not at all. Raises InputError."""
    with writing(out, "wb") as file:
        file.write(content)


class _Handout:
    """Collects the pieces that are played, the roles that occur, and whether any piece is for ``two``."""

    def __init__(self, options: HandoutOptions) -> None:
        self.options = options
        self.pieces: list[dict[str, Any]] = []
        self.roles: set[str] = set()
        self.two = False

    def article(self, number: int, exercise: SheetExercise) -> str:
        """One exercise."""
        name = readable(exercise.title) or _number(exercise.line)
        words = [
            f'<p class="task">{_text(exercise.task)}</p>' if exercise.task else "",
            f"<p>{_text(exercise.remark)}</p>" if exercise.remark else "",
        ]
        body = self._music(f"x{number}", exercise.line, exercise.blanks, exercise.labels, exercise.second)
        return (
            f'<article aria-labelledby="h{number}"><h2 id="h{number}">{number}. {html.escape(name)}</h2>'
            f"{''.join(words)}{body}{self._answer(number, exercise)}</article>"
        )

    def _answer(self, number: int, exercise: SheetExercise) -> str:
        if not exercise.in_key:
            return ""
        line = exercise.solution or exercise.line
        answer = f"<p>{_text(exercise.answer)}</p>" if exercise.answer else ""
        second = exercise.second_to(line)
        music = self._music(f"a{number}", line, frozenset(), True, second)
        return f"<details><summary>Answer</summary><section>{answer}{music}</section></details>"

    def _music(
        self,
        name: str,
        line: AnnotatedLine,
        blanks: frozenset[int],
        labels: bool,
        second: SecondStaff | None,
    ) -> str:
        score = replace(self.options.score, numbers=False)
        if not labels:
            score = replace(score, roles=False, degrees=False)
        elif score.roles:
            lines = [line] if second is None else [line, second.line]
            self.roles.update(note.role for each in lines for note in each.notes)
        spoken = f"{_over(line)}: {_shown(line, blanks)}"
        if second is not None:
            spoken += f"; second part, {CONCERT if second.concert else _shown(second.line, blanks)}"
        pictures = {
            kind: self._picture(line, score, width, f"{name}{kind[0]}-", blanks, spoken, second)
            for kind, width in (("wide", WIDE), ("narrow", NARROW))
        }
        drawn = "".join(f'<div class="{kind}">{each}</div>' for kind, each in pictures.items())
        piece = len(self.pieces)
        played = None if second is None or second.concert else second.line
        self.two |= played is not None
        self.pieces.append(self._piece(line, blanks, played))
        return (
            f'<div class="music">{drawn}</div><p><button type="button" data-piece="{piece}">Play</button></p>'
        )

    def _picture(
        self,
        line: AnnotatedLine,
        score: ScoreOptions,
        width: float,
        prefix: str,
        blanks: frozenset[int],
        spoken: str,
        second: SecondStaff | None,
    ) -> str:
        look = PictureOptions(width=width, colour=self.options.colour, legend=False, prefix=prefix)
        picture = svg([line], score, look, blanks=[blanks], seconds=[second])
        # A title would be shown under the mouse; the label says the same to a screen reader.
        picture = re.sub(r"<title>.*?</title>", "", picture, flags=re.DOTALL)
        picture = re.sub(r'(<svg[^>]*?) width="[^"]*" height="[^"]*"', r"\1", picture, count=1)
        return picture.replace("<svg", f'<svg aria-label="{html.escape(readable(spoken))}"', 1)

    def _piece(
        self, line: AnnotatedLine, blanks: frozenset[int], second: AnnotatedLine | None
    ) -> dict[str, Any]:
        """The notes in beats from beat 1 of bar 1; what the student is to find is silent."""
        performance = perform(line, self.options.sound, [second])
        first = performance.passes[0]
        notes = [
            [
                PARTS.index(each.part),
                round(each.start, 3),
                round(each.end - each.start, 3),
                each.pitch,
                each.velocity,
                -1 if each.index is None else each.index,
            ]
            for each in sorted(first.notes, key=lambda each: each.start)
            if each.index is None or each.index not in blanks
        ]
        return {"lead": first.lead_beats, "beats": first.beats - first.lead_beats, "notes": notes}


def _shared(articles: Sequence[str]) -> tuple[str, list[str]]:
    """Outlines that are drawn again and again, once each, and the exercises that refer to them: a third of
    the size."""
    seen = Counter(found for each in articles for found in _OUTLINE.findall(each))
    names = {path: f"o{place}" for place, (path, count) in enumerate(seen.items()) if count > 1}
    defined = "".join(f'<path id="{name}" d="{path}"/>' for path, name in names.items())

    def refer(found: re.Match[str]) -> str:
        before, path, after = found.groups()
        return f'<use{before}href="#{names[path]}"{after}/>' if path in names else found[0]

    store = f'<svg class="outlines" aria-hidden="true"><defs>{defined}</defs></svg>'
    return store, [_PATH.sub(refer, each) for each in articles]


_OUTLINE = re.compile(r'<path[^>]*? d="([^"]{120,})"')
_PATH = re.compile(r'<path([^>]*? )d="([^"]{120,})"([^>]*?)\s*/>')


def _number(line: AnnotatedLine) -> str:
    return "A line" if line.number is None else f"No. {str(line.number)[:24]}"


def _shown(line: AnnotatedLine, blanks: frozenset[int]) -> str:
    return " ".join(note.name for at, note in enumerate(line.notes) if at not in blanks)


def _over(line: AnnotatedLine) -> str:
    return f"Over {' '.join(line.rules.progression.text.split())}"


def _text(words: str) -> str:
    return html.escape(readable(words))


def _legend(roles: Iterable[str]) -> Iterator[str]:
    for mark in roles_of(roles):
        paint = f'fill="none" stroke-width="{STROKE}"' if mark.hollow else ""
        yield (
            f'<li><svg viewBox="-110 -110 220 220" aria-hidden="true">'
            f'<path class="role {mark.role}" d="{mark.path}" {paint}/></svg>'
            f"<b>{mark.word}</b> {mark.meaning}</li>"
        )


def _asset(name: str) -> str:
    return (resources.files("everyline.handout") / name).read_text(encoding="utf-8")


def _allowed(words: str) -> str:
    """What a Content Security Policy calls a text that it allows (CSP Level 3, hash-source)."""
    digest = base64.b64encode(hashlib.sha256(words.encode()).digest()).decode()
    return f"'sha256-{digest}'"


def _document(title: str, remark: str, articles: Sequence[str], made: _Handout) -> str:
    look, player = _asset("look.css"), _asset("player.js")
    policy = f"default-src 'none'; style-src {_allowed(look)}; script-src {_allowed(player)}"
    # "</" would end the script; in JSON it may as well be written otherwise.
    notes = json.dumps(made.pieces, separators=(",", ":")).replace("</", "<\\/")
    legend = "".join(_legend(made.roles))
    outlines, articles = _shared(articles)
    key = f'<ul class="key" aria-label="What the marks mean">{legend}</ul>' if legend else ""
    return f"""<!doctype html>
<html lang="en">
<head>
<meta charset="utf-8">
<meta name="viewport" content="width=device-width, initial-scale=1">
<meta http-equiv="Content-Security-Policy" content="{policy}">
<title>{html.escape(title)}</title>
<style>{look}</style>
</head>
<body{"" if made.options.colour else ' class="black"'}>
{outlines}
<main>
<h1>{_text(title)}</h1>
{f"<p>{_text(remark)}</p>" if remark else ""}
{_player(made.options.sound, made.two)}
{key}
{"".join(articles)}
<p class="care">{html.escape(CAUTION)}</p>
</main>
<script type="application/json" id="notes">{notes}</script>
<script>{player}</script>
</body>
</html>
"""


def _player(sound: SoundOptions, two: bool) -> str:
    tempo = round(min(max(sound.tempi[0], SLOWEST), FASTEST))
    ticks = "".join(
        f'<label><input type="checkbox" data-part="{part}" {"" if PARTS[part] in sound.mute else "checked"}>'
        f"{words}</label>"
        for part, words in PART_WORDS
        if two or PARTS[part] != SECOND
    )
    return (
        '<section class="player" aria-label="How it sounds">'
        f'<label for="tempo">Tempo</label><input type="range" id="tempo" min="{SLOWEST}" max="{FASTEST}" '
        f'step="1" value="{tempo}"><output id="beats" for="tempo">{tempo}</output>'
        '<label for="level">Loudness</label>'
        '<input type="range" id="level" min="0" max="100" step="1" value="40">'
        f'<label><input type="checkbox" id="loop">Over and over</label>{ticks}</section>'
    )
