"""A drill set as a folder: manifest, text and scores, written so that it can be stopped and resumed.

``manifest.jsonl`` begins with one row that holds the description and every rule file in full; each further
row is one exercise with its rule file's fingerprint, number and key. The set can be made again from it alone.
Everything grows in files that end in ``.part``; ``progress.json`` says how far they are whole.
"""

from __future__ import annotations

import json
import os
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import asdict, dataclass, replace
from pathlib import Path
from typing import Any

from everyline.corpora import Corpus
from everyline.corpora.errors import InputError
from everyline.drill.batches import Batch, Item, Mapper, Sources, cut, here
from everyline.drill.choose import Chosen, Progress
from everyline.drill.difficulty import difficulty
from everyline.drill.exercises import Exercise, Wishes, make
from everyline.drill.sources import Source, source_of
from everyline.drill.spec import Spec, spec_of
from everyline.rules.annotate import AnnotatedLine
from everyline.solver.stratify import sub_seed
from everyline.text import draw

VERSION = 1
BATCH = 50
"""Exercises written at a time, and the most in one score."""

STREAMS = ("manifest.jsonl", "exercises.txt", "key.txt")
PROGRESS = "progress.json"


@dataclass(frozen=True)
class Made:
    """One exercise with the line that it was made from."""

    place: int
    source: Source
    line: AnnotatedLine
    exercise: Exercise


class DrillSet:
    """A description, its sources and the lines chosen, ready to be written."""

    def __init__(self, spec: Spec, sources: Sequence[Source], chosen: Chosen) -> None:
        self.spec, self.sources, self.chosen = spec, sources, chosen

    def exercise(self, place: int, item: Item) -> Made:
        """Exercise ``place``, counted from 1."""
        return exercise_at(self.spec, self.sources, place, item)

    def head(self) -> dict[str, Any]:
        """The first row of the manifest."""
        used = sorted({source for source, _ in self.chosen.items})
        rules = {
            self.sources[n].fingerprint: {
                "name": self.sources[n].name,
                "key": self.sources[n].key,
                "tables": self.sources[n].tables,
            }
            for n in used
        }
        return {
            "drill": VERSION,
            "exercises": len(self.chosen.items),
            "description": asdict(self.spec),
            "remarks": list(self.chosen.remarks),
            "rules": rules,
        }

    def write(self, folder: Path, progress: Progress | None = None, mapper: Mapper = here) -> int:
        """Write the set, or go on where it was stopped; answers how many exercises were there already.

        ``mapper`` is what makes the exercises. Raises InputError where the folder holds anything else.
        """
        done, sizes = _begin(folder, self._mark())
        already = done
        if done == 0:
            _save(folder, self._mark(), 0, sizes)
            sizes = _append(folder, sizes, {"manifest.jsonl": _row(self.head())})
        items = self.chosen.items
        batches = cut(items, BATCH, done)
        for written in mapper(written_batch, self.spec, self.sources, batches):
            _keep_scores(folder, written.scores)
            sizes = _append(folder, sizes, written.texts)
            done += written.exercises
            _save(folder, self._mark(), done, sizes)
            if progress is not None:
                progress(done, len(items))
        for name in STREAMS:
            part = folder / f"{name}.part"
            if part.exists():
                os.replace(part, folder / name)
        for litter in (folder / "scores").glob(".*.part"):
            litter.unlink()
        (folder / PROGRESS).unlink(missing_ok=True)
        return already

    def _mark(self) -> str:
        """What tells this set from another that might be in the folder."""
        import hashlib

        text = json.dumps(self.head(), sort_keys=True, ensure_ascii=False)
        return hashlib.sha256(f"{text} {self.chosen.items}".encode()).hexdigest()


@dataclass(frozen=True, slots=True)
class Written:
    """A batch as it goes into the folder: what is added to its streams, and its scores by file name."""

    exercises: int
    texts: dict[str, str]
    scores: dict[str, bytes]


def written_batch(spec: Spec, sources: Sources, batch: Batch) -> Written:
    """Make the exercises of a batch and write them out in memory."""
    made = [exercise_at(spec, sources, place, item) for place, item in enumerate(batch[1], batch[0])]
    texts = {"manifest.jsonl": "".join(_row(manifest_row(each)) for each in made)}
    if "text" in spec.formats:
        texts["exercises.txt"] = "".join(map(exercise_text, made))
        texts["key.txt"] = "".join(map(key_text, made))
    return Written(len(made), texts, _scores(spec, made) if "musicxml" in spec.formats else {})


def exercise_at(spec: Spec, sources: Sources, place: int, item: Item) -> Made:
    """Exercise ``place`` (from 1); every one depends on its own place and line alone."""
    source = sources[item[0]]
    line = source.line(item[1])
    kind = spec.kinds[(place - 1) % len(spec.kinds)]
    seed = sub_seed(spec.seed, "exercise", place)
    wishes = Wishes(spec.blanks, spec.completions)
    return Made(place, source, line, make(kind, line, source.diagram, seed, wishes))


def _scores(spec: Spec, made: Sequence[Made]) -> dict[str, bytes]:
    from everyline.paper.musicxml import write
    from everyline.paper.options import ScoreOptions

    plain = ScoreOptions(roles=False, degrees=False, numbers=False, title=spec.title)
    keyed = ScoreOptions(title=spec.title)
    scores = {}
    for name, group in _by_instrument(made):
        exercises = [shown_line(each) for each in group if each.exercise.shown]
        scores[f"{name}-exercises.musicxml"] = write(exercises, plain)
        scores[f"{name}-key.musicxml"] = write([each.line for each in group], keyed)
    return scores


def _keep_scores(folder: Path, scores: Mapping[str, bytes]) -> None:
    from everyline.files import writing

    for name, data in scores.items():
        (folder / "scores").mkdir(exist_ok=True)
        with writing(folder / "scores" / name, "wb") as file:
            file.write(data)


def _by_instrument(made: Sequence[Made]) -> Iterator[tuple[str, list[Made]]]:
    """(name of the score, exercises): one part cannot hold lines for several instruments."""
    groups: dict[str, list[Made]] = {}
    for each in made:
        groups.setdefault(each.source.instrument, []).append(each)
    for instrument, group in groups.items():
        yield f"{made[0].place:06d}" + (f"-{instrument}" if len(groups) > 1 and instrument else ""), group


def shown_line(made: Made) -> AnnotatedLine:
    """The line as the player sees it: blanks are left out, a slip sounds, what is to be gone on with ends."""
    exercise, line = made.exercise, made.line
    names = exercise.names(line)
    notes = []
    for place, (event, note) in enumerate(zip(exercise.shown, line.notes, strict=False)):
        if place in exercise.blanks:
            continue
        if event.pitch == note.pitch:
            notes.append(note)
        else:
            notes.append(replace(note, pitch=event.pitch, name=names[place]))
    return replace(line, notes=tuple(notes), figures=(), number=None)


def manifest_row(made: Made) -> dict[str, Any]:
    """One exercise as a row of the manifest; ``line`` is what the player sees, ``notes`` the line itself."""
    row = made.line.as_row()
    return {
        "exercise": made.place,
        "kind": made.exercise.kind,
        "rules": made.source.fingerprint,
        "number": row["number"],
        "key": made.source.key,
        "difficulty": difficulty(made.line),
        "roughness": row["roughness"],
        "line": made.exercise.text(made.line),
        "answer": dict(made.exercise.key),
        "notes": row["notes"],
    }


def exercise_text(made: Made) -> str:
    """The exercise as text for the player."""
    rules = made.line.rules
    changes = " ".join(rules.progression.text.split())
    if rules.progression.key:
        changes += f" in {rules.progression.key}"
    return f"{made.place}. {made.exercise.task} {changes}\n   {made.exercise.text(made.line)}\n\n"


def key_text(made: Made) -> str:
    """The exercise's key as text."""
    answer = "".join(f"   {line}\n" for line in made.exercise.answer)
    head = f"{made.place}. {made.exercise.kind}, difficulty {difficulty(made.line)}"
    return f"{head}\n{answer}{draw(made.line)}\n\n"


# -- files that grow -----------------------------------------------------------------------------------------


def _row(data: Mapping[str, Any]) -> str:
    return json.dumps(data, ensure_ascii=False, sort_keys=False) + "\n"


def _begin(folder: Path, mark: str) -> tuple[int, dict[str, int]]:
    """(exercises already written, sizes of the files up to there); cuts off what came after."""
    try:
        folder.mkdir(exist_ok=True)
        there = sorted(each.name for each in folder.iterdir())
    except OSError as error:
        raise InputError(f"{folder} cannot be written to: {error.strerror}. Name another folder.") from None
    if not there:
        return 0, dict.fromkeys(STREAMS, 0)
    if PROGRESS not in there:
        raise InputError(f"{folder} is not empty; name a new folder.")
    state = json.loads((folder / PROGRESS).read_text(encoding="utf-8"))
    if state["set"] != mark:
        raise InputError(f"{folder} holds another drill set that was stopped; name a new folder.")
    for name, size in state["sizes"].items():
        part = folder / f"{name}.part"
        if part.exists():
            os.truncate(part, size)
    return state["done"], state["sizes"]


def _append(folder: Path, sizes: Mapping[str, int], texts: Mapping[str, str]) -> dict[str, int]:
    grown = dict(sizes)
    for name, text in texts.items():
        with open(folder / f"{name}.part", "ab") as file:
            file.truncate(grown[name])
            file.write(text.encode("utf-8"))
            grown[name] = file.tell()
    return grown


def _save(folder: Path, mark: str, done: int, sizes: Mapping[str, int]) -> None:
    from everyline.files import writing

    with writing(folder / PROGRESS) as file:
        json.dump({"set": mark, "done": done, "sizes": sizes}, file)


# -- made again ----------------------------------------------------------------------------------------------


def from_manifest(path: Path, corpus: Corpus) -> DrillSet:
    """The drill set of a manifest, from that file alone. Raises InputError where it is none, or where its
    rules no longer give the same lines (a figure or an ending of the corpora has changed)."""
    try:
        with open(path, encoding="utf-8") as file:
            head = json.loads(file.readline())
            rows = [json.loads(line) for line in file]
    except (OSError, ValueError):
        raise InputError(f"{path} cannot be read as a manifest of a drill set.") from None
    if not isinstance(head, dict) or head.get("drill") != VERSION:
        raise InputError(f"{path} is not a manifest of a drill set (version {VERSION}).")
    sources: list[Source] = []
    index: dict[str, int] = {}
    for wanted, each in head["rules"].items():
        source = source_of(each["name"], each["key"], each["tables"], corpus)
        if source.fingerprint != wanted:
            raise InputError(
                f"{path}: the rules of {each['name']} in {each['key']} give other lines than then."
            )
        index[wanted] = len(sources)
        sources.append(source)
    spec = spec_of(head["description"], str(path))
    items = tuple((index[row["rules"]], int(row["number"])) for row in rows)
    return DrillSet(spec, sources, Chosen(items, tuple(head["remarks"])))
