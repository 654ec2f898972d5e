"""A drill set as a folder: manifest, text and scores, written so that it can be stopped and resumed.

``manifest.jsonl`` begins with one row that holds the description and every rule file in full; each further
row is one exercise with its rule file's fingerprint, number and key. The set can be made again from it alone.
"""

from __future__ import annotations

import hashlib
import json
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import asdict, dataclass, replace
from pathlib import Path
from typing import Any

from everyline.corpora import Corpus
from everyline.drill.batches import Batch, Item, Mapper, Sources, cut, here
from everyline.drill.choose import Chosen
from everyline.drill.difficulty import difficulty
from everyline.drill.exercises import Exercise, Wishes, make
from everyline.drill.manifest import VERSION, read_manifest
from everyline.drill.set_folder import STREAMS, Remark, SetFolder
from everyline.drill.sources import Source
from everyline.drill.spec import Spec
from everyline.files.progress import Progress
from everyline.files.writing import file_names
from everyline.rules.annotate import AnnotatedLine
from everyline.solver.stratify import sub_seed
from everyline.text.drawing import draw

BATCH = 50
"""Exercises written at a time, and the most in one score."""

MANIFEST, EXERCISES, KEY = STREAMS


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

    def write(
        self,
        folder: Path,
        progress: Progress | None = None,
        mapper: Mapper = here,
        remark: Remark | None = None,
    ) -> int:
        """Write the set, or go on where it was stopped; answers how many exercises were there already.

        ``mapper`` is what makes the exercises; ``remark`` is told what is not as it was written. Raises
        InputError where the folder holds anything else, or where another process is writing to it.
        """
        items = self.chosen.items
        ends = (*range(0, len(items), BATCH), len(items))
        with SetFolder(folder, self._mark(), ends, remark or (lambda sentence: None)) as place:
            already = place.done
            if place.empty:
                place.add(0, {MANIFEST: row_text(self.head())}, {})
            for written in mapper(written_batch, self.spec, self.sources, cut(items, BATCH, already)):
                place.add(written.exercises, written.texts, written.scores)
                if progress is not None:
                    progress(place.done, len(items))
            place.finish()
        return already

    def _mark(self) -> str:
        """What tells this set from another that might be in the folder."""
        text = json.dumps(self.head(), sort_keys=True, ensure_ascii=False)
        return hashlib.sha256(f"{text} {self.chosen.items}".encode()).hexdigest()


@dataclass(frozen=True, slots=True)
class WrittenBatch:
    """A batch as it goes into the folder: what is added to its streams, and its scores by file name."""

    exercises: int
    texts: dict[str, str]
    scores: dict[str, bytes]


def written_batch(spec: Spec, sources: Sources, batch: Batch) -> WrittenBatch:
    """Make the exercises of a batch and write them out in memory."""
    made = [exercise_at(spec, sources, place, item) for place, item in enumerate(batch[1], batch[0])]
    texts = {MANIFEST: "".join(row_text(manifest_row(each)) for each in made)}
    if "text" in spec.formats:
        texts[EXERCISES] = "".join(map(exercise_text, made))
        texts[KEY] = "".join(map(key_text, made))
    return WrittenBatch(len(made), texts, _scores(spec, made) if "musicxml" in spec.formats else {})


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
    from everyline.paper.score_options import ScoreOptions

    plain = ScoreOptions(roles=False, degrees=False, numbers=False, title=spec.title)
    keyed = ScoreOptions(title=spec.title)
    scores = {}
    for name, group in _by_instrument(made):
        exercises = [shown_line(each) for each in group if each.exercise.shown]
        scores[f"{name}-exercises.musicxml"] = write(exercises, plain)
        scores[f"{name}-key.musicxml"] = write([each.line for each in group], keyed)
    return scores


def _by_instrument(made: Sequence[Made]) -> Iterator[tuple[str, list[Made]]]:
    """(name of the score, exercises): one part cannot hold lines for several instruments."""
    groups: dict[str, list[Made]] = {}
    for each in made:
        groups.setdefault(each.source.instrument, []).append(each)
    names = file_names(groups)
    for instrument, group in groups.items():
        name = names[instrument]
        yield f"{made[0].place:06d}" + (f"-{name}" if len(groups) > 1 and name else ""), group


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


def row_text(data: Mapping[str, Any]) -> str:
    """A row of the manifest as it is written."""
    return json.dumps(data, ensure_ascii=False) + "\n"


# -- made again ----------------------------------------------------------------------------------------------


def from_manifest(path: Path, corpus: Corpus) -> DrillSet:
    """The drill set of a manifest, from that file alone. Raises InputError where it is none, or where its
    rules no longer give the same lines."""
    return DrillSet(*read_manifest(path, corpus))
