"""Why a line is not valid: every rule that it breaks, and where."""

from __future__ import annotations

from dataclasses import dataclass

from everyline.rules.acceptor import Breach
from everyline.rules.analysis import Analysis, best_analysis
from everyline.rules.annotate import spell_line
from everyline.rules.fault_words import Words
from everyline.rules.faults import Reading, read
from everyline.rules.limits.base import calling
from everyline.rules.line import Events
from everyline.rules.own import FinishedLine
from everyline.rules.ruleset import Rules


@dataclass(frozen=True, slots=True)
class Verdict:
    """What is to be said of a line: its breaches in the order of the line, and how it is read.

    ``analysis`` is the one to show where the anatomy is valid (a limit may still be broken), else None;
    ``reading`` is then the reading with the fewest faults (None too for a line without a note).
    """

    breaches: tuple[Breach, ...]
    analysis: Analysis | None
    reading: Reading | None

    @property
    def valid(self) -> bool:
        """Whether no rule is broken."""
        return not self.breaches

    @property
    def explained(self) -> int:
        """How many notes, from the first, are explained before the anatomy's first fault."""
        if self.analysis is not None:
            return len(self.analysis.roles)
        places = [b.index for b in self.reading.breaches if b.index is not None] if self.reading else []
        return min(places, default=len(self.reading.roles) if self.reading else 0)


def judge(rules: Rules, events: Events) -> Verdict:
    """Everything there is to say about a line under these rules."""
    if not events:
        return Verdict((Breach("entry", "the line has no notes."),), None, None)
    notes = rules.notes(events)
    analysis = best_analysis(rules, events)
    with calling(notes, spell_line(rules, events, analysis)):
        found, reading = _found(rules, events, analysis)
    order = sorted(found, key=lambda breach: len(events) if breach.index is None else breach.index)
    return Verdict(tuple(dict.fromkeys(order)), analysis, reading)


def _found(rules: Rules, events: Events, analysis: Analysis | None) -> tuple[list[Breach], Reading | None]:
    """The breaches, and the reading of a line that has no analysis."""
    notes = rules.notes(events)
    found = [breach for limit in rules.limits for breach in limit.explain(notes)]
    reading = None
    if analysis is not None:  # whole-line rules are asked of lines that are valid but for them
        found += [each for own in rules.filters for each in own.explain(FinishedLine(rules, events))]
    else:
        words = Words(rules, events)
        found += [
            Breach("range", words.out_of_range(place), place)
            for place, event in enumerate(events)
            if event.pitch not in rules.pitches
        ]
        if events[0].onset not in {slot * rules.slot_ticks for slot in rules.entry.slots}:
            found.append(Breach("entry", words.entry_beat(), 0))
        reading = read(rules, events)
        found += reading.breaches
        if not found:
            # Strict and lenient reading disagree: better said than hidden, and the tests look for it.
            found.append(Breach("anatomy", "the notes cannot be explained as a line under these rules."))
    return found, reading


def breaches(rules: Rules, events: Events) -> tuple[Breach, ...]:
    """Every breach of a line under these rules, in the order of the line; empty when it is valid."""
    return judge(rules, events).breaches
