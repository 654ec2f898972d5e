"""Tallies as a picture: a panel of bars for each, as SVG that follows the reader's light or dark colours."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from fractions import Fraction
from xml.sax.saxutils import escape

from everyline.solver.tally import Tally

WIDTH, LEFT, RIGHT = 760, 64, 16
PANEL, TOP, BOTTOM = 216, 58, 34
"""Pixels: of the whole width, beside, of a panel's height, above and below its bars."""
MOST_BARS = 90
LETTER = 7.5
"""Width of a letter of a label, at most."""

LIGHT = {"ground": "#ffffff", "text": "#1d2125", "quiet": "#4d545c", "rule": "#d4d8dd", "bar": "#0b6a75"}
DARK = {"ground": "#15181c", "text": "#e9ebee", "quiet": "#b4bbc3", "rule": "#3a4048", "bar": "#62c3cf"}
"""Colours by their use. Text has at least 4.5 to 1 against the ground, bars 3 to 1 (WCAG 2.2, 1.4.3 and
1.4.11)."""


@dataclass(frozen=True, slots=True)
class _Bar:
    label: str
    words: str
    share: Fraction


def chart(tallies: Sequence[Tally], heading: str) -> str:
    """All tallies below each other under a heading, as an SVG document."""
    shown = [tally for tally in tallies if tally.entries]
    height = 40 + PANEL * len(shown)
    what = "; ".join(tally.title for tally in shown)
    parts = [
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {WIDTH} {height}" width="{WIDTH}" '
        f'height="{height}" role="img" aria-labelledby="heading what">',
        f'<title id="heading">{escape(heading)}</title>',
        f'<desc id="what">{escape(f"Bars, in percent. {what}.")}</desc>',
        f"<style>{_style()}</style>",
        f'<rect class="ground" width="{WIDTH}" height="{height}"/>',
        _text(16, 28, heading, "heading"),
    ]
    for place, tally in enumerate(shown):
        parts += [f'<g transform="translate(0 {40 + PANEL * place})">', *_panel(tally), "</g>"]
    return "\n".join([*parts, "</svg>", ""])


def _style() -> str:
    def colours(theme: dict[str, str]) -> str:
        return (
            f".ground{{fill:{theme['ground']}}}text{{fill:{theme['text']}}}.quiet{{fill:{theme['quiet']}}}"
            f".bar{{fill:{theme['bar']}}}.rule{{stroke:{theme['rule']}}}"
        )

    text = "text{font:12px system-ui,sans-serif}.heading{font-size:16px;font-weight:600}.name{font-size:14px"
    return f"{text};font-weight:600}}{colours(LIGHT)}@media (prefers-color-scheme:dark){{{colours(DARK)}}}"


def _text(x: float, y: float, words: str, kind: str = "", anchor: str = "start") -> str:
    name = f' class="{kind}"' if kind else ""
    return f'<text x="{x:.1f}" y="{y:.1f}"{name} text-anchor="{anchor}">{escape(words)}</text>'


def _panel(tally: Tally) -> Iterator[str]:
    bars, step = _bars(tally)
    unit = "" if step == 1 else f"; a bar for each {step} values"
    if tally.mean is not None:
        unit += f"; mean {mean_in_words(tally)}"
    yield _text(16, 24, f"{tally.kind}: {tally.title}", "name")
    yield _text(16, 42, f"in percent of {in_words(tally.total)} {tally.of}{unit}", "quiet")
    tick, ticks = _ticks(max(bar.share for bar in bars))
    room, floor = PANEL - TOP - BOTTOM, PANEL - BOTTOM
    for place in range(ticks + 1):
        y = floor - room * place / ticks
        yield f'<line class="rule" x1="{LEFT}" x2="{WIDTH - RIGHT}" y1="{y:.1f}" y2="{y:.1f}"/>'
        yield _text(LEFT - 8, y + 4, f"{float(tick * place * 100):g} %", "quiet", "end")
    each = (WIDTH - LEFT - RIGHT) / len(bars)
    every = max(1, -int(-max(len(bar.label) + 1 for bar in bars) * LETTER // each))
    for place, bar in enumerate(bars):
        x = LEFT + each * place
        if bar.share:
            tall = max(0.5, float(room * bar.share / (tick * ticks)))
            width = min(max(1.0, each * 0.78), 44.0)
            yield (
                f'<rect class="bar" x="{x + (each - width) / 2:.1f}" y="{floor - tall:.2f}" '
                f'width="{width:.1f}" height="{tall:.2f}"><title>{escape(bar.words)}</title></rect>'
            )
        if place % every == 0:
            yield _text(x + each / 2, floor + 18, bar.label, anchor="middle")


def _bars(tally: Tally) -> tuple[list[_Bar], int]:
    """The bars, and how many values each stands for: a bar for each number in between as well, save for
    degrees, whose values are names."""
    total = tally.total
    if tally.kind == "degree":
        return [_bar(entry.label, entry.label, entry.count, total) for entry in tally.entries], 1
    low, high = tally.entries[0].number, tally.entries[-1].number
    step = next(size for size in _round_sizes() if (high - low) // size < MOST_BARS)
    low -= low % step
    counts = [0] * ((high - low) // step + 1)
    for entry in tally.entries:
        counts[(entry.number - low) // step] += entry.count
    names = {entry.number: entry.label for entry in tally.entries}
    found = []
    for place, count in enumerate(counts):
        first = low + place * step
        label = names.get(first) or _name(tally.kind, first)
        words = label if step == 1 else f"{first} to {first + step - 1}"
        found.append(_bar(label, words, count, total))
    return found, step


def _name(kind: str, number: int) -> str:
    """What stands under a bar for a number that does not occur."""
    return {"pitch": "", "interval": f"{number:+d}"}.get(kind, str(number))


def _bar(label: str, words: str, count: int, total: int) -> _Bar:
    share = Fraction(count, total)
    return _Bar(label, f"{words}: {in_words(count)} ({decimal(share * 100)} %)", share)


def _round_sizes() -> Iterator[int]:
    size = 1
    while True:
        yield from (size, 2 * size, 5 * size)
        size *= 10


def _ticks(most: Fraction) -> tuple[Fraction, int]:
    """(share from one line of the scale to the next, how many), so that two to five reach over the highest
    bar."""
    size = Fraction(1)
    while size / 5 >= most:
        size /= 10
    for part in (size / 50, size / 20, size / 10, size / 5, size / 2, size):
        if part * 5 >= most:
            return part, max(1, -int(-most // part))
    return size, 1


def decimal(value: Fraction) -> str:
    """A number to two places, rounded half up in size."""
    hundredths = (abs(value) * 100 + Fraction(1, 2)) // 1
    sign = "-" if value < 0 and hundredths else ""
    return f"{sign}{hundredths // 100}.{hundredths % 100:02}"


def mean_in_words(tally: Tally) -> str:
    """The mean of a tally that has one, to two places."""
    assert tally.mean is not None
    return decimal(tally.mean) + (" (as a MIDI number)" if tally.kind == "pitch" else "")


def in_words(count: int) -> str:
    """A count as it is read: all digits up to fifteen, else about how many powers of ten."""
    digits = str(count)
    if len(digits) <= 15:
        return f"{count:,}".replace(",", " ")
    return f"{digits[0]}.{digits[1:3]} × 10^{len(digits) - 1}"
