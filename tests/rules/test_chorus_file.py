"""Plan files: what a phrase takes from the top, which stretch of the form it gets, what is refused how."""

from __future__ import annotations

import copy
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from everyline.corpora.errors import InputError
from everyline.rules.chorus_file import load_plan_file, read_plan
from everyline.rules.chorus_plan import ChorusPlan
from everyline.rules.excerpt import excerpt
from everyline.rules.progression import parse_progression
from tests.spaces import CORPUS

BASE: dict[str, Any] = {
    "changes": "Dm7 | G7 | Cmaj7 A7 | Dm7 G7 | Em7 A7 | Dm7 | G7 | Cmaj7",
    "range": {"lowest": "E3", "highest": "E5"},
    "ending": {"use": ["plain"]},
    "phrase": [{"name": "first", "bars": "1-3", "until": "3"}, {"bars": "5-8"}],
}


def plan(phrase: dict[str, Any] | None = None, **top: Any) -> ChorusPlan:
    """The base plan with more at the top and in its second phrase."""
    tables = copy.deepcopy(BASE) | top
    if phrase is not None:
        tables["phrase"][1] = tables["phrase"][1] | phrase
    return read_plan(tables, CORPUS, name="plan.toml")


def refusal(phrase: dict[str, Any] | None = None, **top: Any) -> str:
    with pytest.raises(InputError) as refused:
        plan(phrase, **top)
    return str(refused.value)


# -- the stretch of a phrase ---------------------------------------------------------------------------------


def test_a_phrase_has_the_chords_of_its_bars() -> None:
    first, second = plan().phrases
    assert first.rules.progression.text == "Dm7 | G7 | Cmaj7"
    assert second.rules.progression.text == "Em7 A7 | Dm7 | G7 | Cmaj7"
    assert (first.shift, second.shift) == (0, 4 * 4 * 480)
    assert (first.bars, second.bars_text) == ((1, 3), "bars 5-8")
    assert (first.name, second.name) == ("first", "2")


def test_from_and_until_share_a_bar() -> None:
    found = plan({"bars": "3-6", "from": "3"}).phrases[1].rules
    assert found.progression.text == "A7 | Dm7 G7 | Em7 A7 | Dm7"
    assert found.entry.slots == (4,)


def test_an_entry_of_its_own_goes_before_from() -> None:
    found = plan({"bars": "3-6", "from": "3", "entry": {"beats": ["2&", "4"]}}).phrases[1].rules
    assert found.entry.slots == (3, 6)


def test_one_bar_of_two_chords_is_a_phrase() -> None:
    assert plan({"bars": 5}).phrases[1].rules.progression.text == "Em7 A7"


def test_a_phrase_may_have_another_subdivision() -> None:
    first, second = plan({"subdivision": 3}).phrases
    assert (first.rules.slot_ticks, second.rules.slot_ticks) == (240, 160)
    assert second.rules.progression.starts == (0, 6, 12, 24, 36)


def test_roman_numerals_are_read_in_the_key_of_the_plan() -> None:
    found = plan(changes="ii7 | V7 | Imaj7 VI7 | ii7 V7 | iii7 VI7 | ii7 | V7 | Imaj7", key="C")
    assert found.phrases[1].rules.progression.text == "Em7 A7 | Dm7 | G7 | Cmaj7"


CHORDS = ("Dm7", "G7", "Cmaj7", "Abdim7", "F#m7b5", "Bb13")
BARS = {4: (1, 2, 4, 8), 3: (1, 3, 6), 2: (1, 2, 4)}


@given(st.data(), st.sampled_from(sorted(BARS)))
def test_an_excerpt_has_the_chord_of_the_form_at_every_slot(data: st.DataObject, beats: int) -> None:
    bar = st.sampled_from(BARS[beats]).flatmap(
        lambda shares: st.lists(st.sampled_from(CHORDS), min_size=shares, max_size=shares)
    )
    text = " | ".join(" ".join(each) for each in data.draw(st.lists(bar, min_size=2, max_size=5)))
    form = parse_progression(text, f"{beats}/4")
    first = data.draw(st.integers(0, form.slots - 1))
    beyond = data.draw(st.integers(first + 1, form.slots))
    try:
        found = parse_progression(excerpt(form, first, beyond, 2), f"{beats}/4")
    except InputError as error:
        assert "one chord in one bar" in str(error)
        return
    shift = first // form.slots_per_bar * form.slots_per_bar
    for slot in range(first, beyond):
        assert found.chords[found.chord_index(slot - shift)].key == form.chords[form.chord_index(slot)].key


# -- what is shared ------------------------------------------------------------------------------------------


def test_a_phrase_goes_before_the_top_key_by_key() -> None:
    found = plan({"approach": {"count": ["1"]}}, approach={"figures": ["above-below"], "count": ["0"]})
    first, second = (each.rules.approach for each in found.phrases)
    assert (first.count, second.count) == (((0, 0),), ((1, 1),))
    assert first.figures == second.figures


def test_shared_scales_hold_where_their_chord_is() -> None:
    found = plan({"scales": {"A7": "whole-tone"}}, scales={"A7": "altered", "Dm7": "aeolian"})
    first, second = (each.rules for each in found.phrases)
    assert first.scales[0] == second.scales[2] == (0, 2, 3, 5, 7, 8, 10)
    assert second.scales[1] == (0, 2, 4, 6, 8, 10)


def test_shared_endings_are_used_where_they_fit() -> None:
    down = {"name": "down", "notes": "b9 1 b7 5 | 3", "over": ["7"]}
    tables = {"endings": [down], "changes": "Dm7 | G7 | Cmaj7 | % | Fm7 | Gm7 | Abmaj7 | %"}
    named = plan(ending={"use": ["plain", "down"]}, **tables)
    assert [[each.name for each in phrase.rules.endings] for phrase in named.phrases] == [["down"], []]
    offered = plan(ending={}, **tables)
    assert "down" in {each.name for each in offered.phrases[0].rules.endings}
    assert "down" not in {each.name for each in offered.phrases[1].rules.endings}


def test_bounds_of_a_phrase_narrow_an_instrument() -> None:
    found = plan({"range": {"lowest": "C4"}}, range={"instrument": "guitar", "position": 5})
    first, second = (each.rules for each in found.phrases)
    assert second.pitches == {pitch for pitch in first.pitches if pitch >= 60}
    assert second.instrument == found.form.instrument
    assert found.form.pitches == first.pitches


def test_bounds_of_a_phrase_replace_two_pitches() -> None:
    found = plan({"range": {"highest": "G5"}})
    assert max(found.phrases[1].rules.pitches) == 79
    assert found.form.pitches == set(range(52, 80))


def test_a_join_of_a_phrase_goes_before_the_plans() -> None:
    found = plan({"join": {"most_rest": 6}}, join={"reach": 3, "least_rest": 2})
    join = found.phrases[1].join
    assert join is not None
    assert (join.reach, join.least_rest, join.most_rest) == (3, 960, 2880)
    assert found.phrases[0].join is None
    default = plan().phrases[1].join
    assert default is not None
    assert (default.reach, default.least_rest, default.most_rest) == (7, 480, None)


def test_the_form_begins_where_the_first_phrase_does() -> None:
    tables = copy.deepcopy(BASE)
    tables["phrase"] = [{"bars": "5-8", "entry": {"pickup": [1]}}]
    assert read_plan(tables, CORPUS).form.entry.slots == (31,)


def test_limits_at_the_top_are_the_forms_and_others_the_phrases() -> None:
    found = plan({"limit": [{"kind": "ambitus", "semitones": 12}]}, limit=[{"kind": "single-peak"}])
    assert [limit.kind for limit in found.form.limits] == ["single-peak"]
    assert [[limit.kind for limit in each.rules.limits] for each in found.phrases] == [[], ["ambitus"]]


# -- what is refused -----------------------------------------------------------------------------------------

REFUSED: list[tuple[dict[str, Any], dict[str, Any], tuple[str, ...]]] = [
    ({"barss": "5-8"}, {}, ("plan.toml, [[phrase]] 2", '"barss"', 'Did you mean "bars"?')),
    ({"name": "bridge", "bars": "7-9"}, {}, ('[[phrase]] 2 "bridge"', 'bars = "7-9"', "bars 1 to 8")),
    ({"bars": "8-5"}, {}, ('bars = "8-5"', '"5-8"')),
    ({"bars": "five"}, {}, ('bars = "five"', '"1-4"')),
    ({"bars": 0}, {}, ("bars = 0", "bars 1 to 8")),
    ({"bars": "3-6"}, {}, ("bar 3, beat 1", '"first"', "bar 3, beat 3", "do not overlap")),
    ({"bars": "5-8", "from": "9"}, {}, ('from = "9"', "is not a beat")),
    ({"bars": "5-8", "until": "1"}, {}, ('until = "1"', "nothing of bar 8")),
    ({"bars": "6"}, {}, ('bars = "6"', "one chord in one bar")),
    ({"name": "first"}, {}, ('name = "first"', "rename")),
    ({"join": {"rech": 3}}, {}, ("[phrase.join]", '"rech"', 'Did you mean "reach"?')),
    ({"join": {"most_rest": 0}}, {}, ("most_rest = 0", "least_rest = 1")),
    ({"range": {"instrument": "guitar"}}, {}, ("[phrase.range]", "one instrument")),
    (
        {"range": {"lowest": "E6"}},
        {"range": {"instrument": "guitar", "position": 5}},
        ("no pitch of guitar",),
    ),
    ({"ending": {"use": ["rise"]}}, {}, ("[[phrase]] 2", "[ending]", '"rise"')),
    ({"approach": {"reach": "x"}}, {}, ("[[phrase]] 2, [approach]", 'reach = "x"')),
    ({"own_rules": ["mine.py:rule"]}, {}, ("[[phrase]] 2", "own_rules", "--allow-python")),
    ({"subdivision": 3}, {"changes": BASE["changes"].replace("Em7 A7", "Em7 A7 " * 4)}, ("subdivision = 3",)),
    ({}, {"phrases": []}, ('"phrases"', 'Did you mean "phrase"?')),
    ({}, {"aproach": {}}, ('"aproach"', 'Did you mean "approach"?')),
    ({}, {"entry": {"beat": ["1"]}}, ("plan.toml, [entry]", 'Did you mean "beats"?')),
    ({}, {"limit": [{"kind": "must-target", "degree": "3"}]}, ("must-target", "[[phrase.limit]]")),
    ({}, {"join": {"reach": -1}}, ("plan.toml, [join]", "reach = -1")),
]


@pytest.mark.parametrize(("phrase", "top", "said"), REFUSED, ids=lambda value: str(value)[:40])
def test_what_is_wrong_is_said_in_one_sentence(
    phrase: dict[str, Any], top: dict[str, Any], said: tuple[str, ...]
) -> None:
    message = refusal(phrase, **top)
    for part in said:
        assert part in message
    assert message.endswith((".", "?"))
    assert "\n" not in message


def test_a_first_phrase_follows_no_other() -> None:
    tables = copy.deepcopy(BASE)
    tables["phrase"][0]["join"] = {"reach": 3}
    with pytest.raises(InputError, match="the first phrase follows no other"):
        read_plan(tables, CORPUS)


def test_an_ending_for_all_that_fits_no_phrase_is_refused() -> None:
    odd = {"name": "odd", "notes": "5 3 | 1", "over": ["dim7"]}
    message = refusal(endings=[odd], ending={"use": ["plain", "odd"]})
    assert "fits no phrase" in message
    assert '"odd"' in message


def test_a_phrase_without_any_of_the_shared_endings_is_named() -> None:
    tables = {"endings": [{"name": "down", "notes": "b9 1 | 3", "over": ["7"]}], "ending": {"use": ["down"]}}
    message = refusal(changes="Dm7 | G7 | Cmaj7 | % | Fm7 | Gm7 | Abmaj7 | %", **tables)
    assert message.startswith("plan.toml, [[phrase]] 2: none of the plan's endings fits here")


@pytest.mark.parametrize("phrases", [None, [], "1-4", [1]])
def test_a_plan_without_phrases_is_refused(phrases: Any) -> None:
    tables = {key: value for key, value in BASE.items() if key != "phrase"}
    if phrases is not None:
        tables["phrase"] = phrases
    with pytest.raises(InputError, match=r"\[\[phrase\]\]"):
        read_plan(tables, CORPUS)


def test_a_file_that_does_not_exist_is_named(tmp_path: Any) -> None:
    with pytest.raises(InputError, match=r"no-plan\.toml"):
        load_plan_file(tmp_path / "no-plan.toml", CORPUS)


# -- rhythm --------------------------------------------------------------------------------------------------


def test_a_phrase_takes_the_rhythm_of_the_plan_or_states_its_own() -> None:
    cells = {"cells": ["8t 8t 8t", "4"]}
    first, second = plan(rhythm=cells, passing={"kinds": ["scale"]}, entry={"pickup": [1]}).phrases
    assert [len(each.rules.cells) for each in (first, second)] == [2, 2]
    assert (first.rules.progression.subdivision, first.rules.entry.slots) == (6, (-3,))
    assert second.rules.passing.kinds == ("scale",)
    first, second = plan({"rhythm": {"cells": ["8 8"]}}, rhythm=cells).phrases
    assert (first.rules.slot_ticks, second.rules.slot_ticks) == (80, 240)
    first, second = plan({"subdivision": 4}, rhythm=cells).phrases
    assert (len(first.rules.cells), second.rules.cells, second.rules.slot_ticks) == (2, (), 120)
    first, second = plan({"rhythm": cells}).phrases
    assert (first.rules.cells, first.rules.slot_ticks, second.rules.slot_ticks) == ((), 240, 80)


def test_a_phrase_states_cells_or_a_subdivision() -> None:
    assert "leave subdivision out" in refusal({"rhythm": {"cells": ["4"]}, "subdivision": 2})
    assert "[phrase.rhythm]" in refusal({"rhythm": {"cells": ["8"]}})
