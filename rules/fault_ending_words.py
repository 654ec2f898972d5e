"""What is wrong with the way a line ends, in sentences a player reads."""

from __future__ import annotations

from everyline.corpora.counted import plural
from everyline.rules.endings import PlacedEnding
from everyline.rules.fault_words import Words
from everyline.rules.line import TICKS_PER_BEAT


class EndingWords(Words):
    """Words for all faults of a line, those of its ending among them."""

    def ending_note(self, ending: PlacedEnding, index: int, pitch: int) -> str:
        """One wrong note in a known ending."""
        expected = self.pitch(pitch, self.notes[index].chord)
        return f"{self.note(index)} is not the note of the ending {ending.name}, which has {expected} there."

    def ending_length(self, ending: PlacedEnding, index: int, length: int) -> str:
        """A note of a known ending held too long or too short."""
        return (
            f"{self.note(index)} lasts {plural(self.notes[index].length / TICKS_PER_BEAT, 'beat')}; in the "
            f"ending {ending.name} it lasts {length / TICKS_PER_BEAT:.3g}."
        )

    def ending_place(self, ending: PlacedEnding, index: int) -> str:
        """The notes of a known ending in another place or rhythm."""
        return (
            f"from {self.note(index)} on the notes are those of the ending {ending.name}, but not in its "
            "place and "
            f"rhythm: it starts on {self.at(ending.start)}."
        )

    def lead_in(self, ending: PlacedEnding, index: int) -> str:
        """A known ending led into from too far, or from its own first note."""
        leap = abs(self.notes[index].pitch - self.notes[index - 1].pitch)
        if not leap:
            return (
                f"the ending {ending.name} begins at {self.note(index)} on the note just played; it has to "
                "move."
            )
        return (
            f"the ending {ending.name} begins at {self.note(index)}, {plural(leap, 'semitone')} from the "
            "note before "
            f"it; the lead-in allowed is {self.rules.lead_in}."
        )

    def ending_octave(self, ending: PlacedEnding, index: int, shift: int) -> str:
        """A known ending that begins in another octave than the note before it asks for."""
        nearest = self.pitch(self.notes[index].pitch - shift, self.notes[index].chord)
        return (
            f"the ending {ending.name} begins at {self.note(index)}; an ending begins on the nearest note of "
            f"its degree to the note before it, {nearest}."
        )

    def ending_gap(self, ending: PlacedEnding, index: int) -> str:
        """A known ending that begins where the rhythm of the body does not let it."""
        if self.rules.cells:
            return (
                f"the ending {ending.name} begins on {self.at(self.notes[index].onset)}, where no cell that "
                "fits the notes before it ends or can be cut."
            )
        silent = self.at(self.notes[index - 1].end)
        return f"nothing begins on {silent}; up to its ending a line fills every slot."

    def unknown_ending(self, index: int) -> str:
        """Notes that no ending in use has."""
        return (
            f"no ending in use has the notes from {self.note(index)} on; the endings in use: "
            f"{self._endings()}."
        )

    def _endings(self) -> str:
        names = [*(["plain"] if self.rules.plain else []), *(ending.name for ending in self.rules.endings)]
        shown = names if len(names) <= 6 else [*names[:5], f"{len(names) - 5} more"]
        return ", ".join(shown)

    def late(self, index: int) -> str:
        """Notes after the resolution that belong to no ending."""
        rest = len(self.notes) - index
        return (
            f"{plural(rest, 'note follows', 'notes follow')} the resolution on "
            f"{self.at(self.rules.resolution_tick)}, from {self.note(index)} on, and no ending in use goes "
            "on like "
            f"this; resolve there and stop, or use one of {self._endings()}."
        )

    def early(self) -> str:
        """A line that stops too soon."""
        return (
            f"the line stops at {self.note(len(self.notes) - 1)}; it has to go on to its resolution on "
            f"{self.at(self.rules.resolution_tick)}."
        )

    def final_length(self) -> str:
        """The resolution note held too long or too short."""
        last = self.notes[-1]
        return (
            f"the last note, {self.note(len(self.notes) - 1)}, lasts "
            f"{plural(last.length / TICKS_PER_BEAT, 'beat')}; without "
            "a stock ending it lasts 1 beat."
        )

    def no_plain(self) -> str:
        """The line resolves without a stock ending where these rules ask for one."""
        return (
            f"the line ends on {self.note(len(self.notes) - 1)} without a stock ending, and these rules ask "
            "for one: "
            f"{self._endings()}."
        )
