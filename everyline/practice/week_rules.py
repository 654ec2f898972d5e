"""The rules of gaps and tempi, and where a student stands by them: plain functions of what was recorded.

Gaps grow. Practice spread over days is kept better than practice in one go, and the longer something is to
be kept, the longer the best gap (Cepeda, Pashler, Vul, Wixted and Rohrer 2006, Psychological Bulletin
132:354-380, of 317 experiments on words, not on music; Cepeda and others 2008, Psychological Science
19:1095-1102: about 20 to 40 % of a week, 5 to 10 % of a year). That gaps should *grow* is weaker: as good
in the end as equal ones, and better known along the way (Kang, Lindsey, Mozer and Pashler 2014, Psychonomic
Bulletin & Review); no difference over 54 effects (Latimier, Peyre and Ramus 2021, Educational Psychology
Review 33:959-987). Doubling is ours.
"""

from __future__ import annotations

from bisect import bisect_left
from collections import Counter
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date
from itertools import groupby

from everyline.corpora.errors import InputError
from everyline.practice.records import GivenLine, Grade, Kind, Practised, Student
from everyline.practice.week import PlannedLine, Wishes
from everyline.rules.pitch import parse_note_name
from everyline.rules.spelling import parse_key
from everyline.rules.transpose import CYCLE, keys_in_order

LONG = 14
"""A line whose gap is at least so many days comes back for one round, any other for two."""


@dataclass(frozen=True, slots=True)
class Gap:
    """The next gap of a line: its ``place`` in the gaps asked for, and the ``least`` days that it lasts."""

    place: int
    least: int

    @property
    def most(self) -> int:
        """The most days: half as many again. Where no day of practice lies between, the next one counts."""
        return self.least + self.least // 2

    def after(self, gaps: Sequence[int], days: int, grade: Grade) -> Gap:
        """The gap after one of so many ``days`` (a longer absence counts as ``most``) and a day graded so.

        After a clean day the next of the gaps, and longer than the last one, until the longest is reached;
        with slips the same again; where it did not go yet, the first.
        """
        if grade is Grade.NOT_YET:
            return first_gap(gaps)
        if grade is Grade.WITH_SLIPS:
            return Gap(self.place, gaps[self.place])
        place = min(self.place + 1, len(gaps) - 1)
        return Gap(place, max(gaps[place], min(min(days, self.most) + 1, gaps[-1])))


def first_gap(gaps: Sequence[int]) -> Gap:
    """The gap after a line's first day."""
    return Gap(0, gaps[0])


def due(gap: Gap, last: int, days: Sequence[int]) -> tuple[list[int], bool]:
    """Which of the ``days`` (rising) a line last practised on day ``last`` may come on, and whether it may
    come after all of them instead."""
    inside = [day for day in days if last + gap.least <= day <= last + gap.most]
    if inside:
        return inside, last + gap.most > days[-1]
    later = bisect_left(days, last + gap.most)
    return list(days[later : later + 1]), later == len(days)


def next_tempo(tempo: int, grade: Grade, wishes: Wishes) -> int:
    """The tempo after a day graded so: a step up after a clean one, the same with slips, a step down where
    it did not go yet; not over the goal, nor under the first tempo unless it was slower already.

    Raising the tempo by small steps once a passage is clean is common practice; the numbers are the
    teacher's.
    """
    if grade is Grade.CLEAN:
        return max(tempo, min(tempo + wishes.step, wishes.goal))
    if grade is Grade.WITH_SLIPS:
        return tempo
    return min(tempo, max(tempo - wishes.step, wishes.tempo))


def tempo_now(tempo: int, rounds: Iterable[Practised], wishes: Wishes) -> int:
    """The tempo of the next round on a line, from that at which its day begins and the day's rounds so far: a
    step after each, by ``next_tempo``. A round without a tempo leaves it as it is."""
    for each in rounds:
        if each.tempo is not None:
            tempo = next_tempo(each.tempo, each.grade, wishes)
    return tempo


def class_of(key: str) -> int:
    """The pitch class of a key's tonic: C# minor and Db minor are one key to play in."""
    return parse_note_name(parse_key(key).tonic)


def keys_from(home: str) -> tuple[str, ...]:
    """The twelve keys in the cycle of fourths, beginning at home (common practice)."""
    cycle = keys_in_order(CYCLE, parse_key(home).minor)
    start = [class_of(key) for key in cycle].index(class_of(home))
    return (home, *cycle[start + 1 :], *cycle[:start])


@dataclass(frozen=True, slots=True)
class Standing:
    """Where a student stands with a line: when it was last practised (None: it is new), the gap that
    follows, how often it was played in each key (by pitch class of the tonic), how often each other kind was
    done, and the tempo to take next."""

    line: PlannedLine
    last: date | None
    gap: Gap
    tempo: int
    keys: Mapping[int, int] = field(default_factory=dict)
    kinds: Mapping[Kind, int] = field(default_factory=dict)

    def keys_wanting(self, wishes: Wishes) -> int:
        """In how many more keys the line is to be played before a new one is begun."""
        return max(0, wishes.keys - len(self.keys))


def standings(student: Student, wishes: Wishes) -> list[Standing]:
    """Every line given, in order, then those still to come. Raises InputError where a round was recorded
    after the plan begins."""
    late = [each.on for each in student.rounds if each.on > wishes.begin]
    if late:
        raise InputError(
            f"the plan begins on {wishes.begin}, but a round was recorded on {max(late)}; let it begin then, "
            "or later."
        )
    found = [_standing(line, student.rounds_on(line), wishes) for line in student.lines]
    coming = (
        PlannedLine(f"New line {number}", wishes.to_come_key) for number in range(1, wishes.to_come + 1)
    )
    return found + [Standing(line, None, first_gap(wishes.gaps), wishes.tempo) for line in coming]


def _standing(given: GivenLine, rounds: Iterable[Practised], wishes: Wishes) -> Standing:
    gap, tempo, last = first_gap(wishes.gaps), wishes.tempo, None
    keys: Counter[int] = Counter()
    kinds: Counter[Kind] = Counter()
    order = list(Grade)
    for on, day in groupby(sorted(rounds, key=lambda each: each.on), key=lambda each: each.on):
        todays = list(day)
        grade = min((each.grade for each in todays), key=order.index)
        if last is not None:
            gap = gap.after(wishes.gaps, (on - last).days, grade)
        reached = [each.tempo for each in todays if each.tempo is not None]
        tempo = next_tempo(reached[-1] if reached else tempo, grade, wishes)
        last = on
        for each in todays:
            if each.kind is Kind.PLAY:
                keys[class_of(each.key)] += 1
            else:
                kinds[each.kind] += 1
    line = PlannedLine(given.title, given.key, given.id, given.place)
    return Standing(line, last, gap, tempo, keys, kinds)
