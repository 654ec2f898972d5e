"""What the page works out without a browser: addresses, rule tables, undo, corrections, times, words."""

from __future__ import annotations

import json
from typing import Any

import pytest

from everyline.corpora import load
from everyline.corpora.errors import InputError
from everyline.page.controls import vocabulary
from everyline.page.operations import FIRST_RULES, Workspace
from everyline.rules.rulefile import parse_rules
from tests.everyline.page.node import run

SETTLE = """
globalThis.requestAnimationFrame = (act) => act();
globalThis.location = { hash: "" };
globalThis.history = {
    replaceState: (a, b, hash) => { location.hash = hash; history.steps.push(["in place", hash]); },
    pushState: (a, b, hash) => { location.hash = hash; history.steps.push(["new", hash]); },
    steps: [],
};
globalThis.fetch = async () => ({ ok: true, json: async () => ({ id: "x", count: "1" }) });
"""
"""What of a browser the state of the page uses."""


def test_an_address_says_what_it_was_made_from() -> None:
    tables = {
        "changes": "Dm7 | G7 | Cmaj7",
        "range": {"lowest": "E3", "strings": [1, 2]},
        "entry": {"beats": ["1", "2&"], "start": ["D4"]},
        "limit": [{"kind": "largest-leap", "semitones": 5}],
        "title": "17 = [odd] & \u266d",
    }
    where = {
        "view": "drills",
        "order": "varied",
        "draw": "3",
        "staves": "tab",
        "drill": {"how_many": 100, "kinds": ["play", "slip"], "keys": "cycle"},
    }
    found = run(
        """
        const { addressFor, readFrom, USUAL } = await load("address.js");
        const drill = { ...USUAL.drill, ...given.where.drill };
        const where = { ...USUAL, ...given.where, drill };
        const hash = addressFor(where, given.tables);
        return [where, readFrom(hash)];
        """,
        {"tables": tables, "where": where},
    )
    assert found[1] == {"where": found[0], "tables": tables}


@pytest.mark.parametrize(
    "query",
    ["order=best", "line=0", "line=abc", "draw=-1", "staves=all", "place=1e3", "drill.how_many=x",
     "drill.kinds=[]", "drill.kinds=[1]", "drill.x=1", "drill=7", "__proto__.x=1", "toString=1"],
)  # fmt: skip
def test_odd_values_in_an_address_are_left_out(query: str) -> None:
    script = """
    const { readFrom, USUAL } = await load("address.js");
    const { where } = readFrom(given);
    return [where, USUAL, {}.x ?? null];
    """
    where, usual, polluted = run(script, f"#lines?{query}")
    if query.startswith("line="):
        usual["order"] = "number"  # a place among all lines is one by number
    assert where == usual
    assert polluted is None


SHAPES: dict[str, Any] = {
    "#lines?constructor.prototype=1&changes=C|F": {"changes": "C|F"},
    "#lines?entry.__proto__=1&changes=C|F": {"changes": "C|F"},
    "#lines?changes=C|F&limit=[null]": {"changes": "C|F"},
    "#lines?changes=C|F&limit=7&scales=[]&figures={}": {"changes": "C|F"},
    "#lines?changes=C|F&ending.use=5": {"changes": "C|F"},
    "#lines?changes=C|F&ending.use=plain": {"changes": "C|F"},
    "#lines?changes=C|F&approach.figures={}": {"changes": "C|F"},
    "#lines?changes=C|F&approach.count=1": {"changes": "C|F"},
    "#lines?changes=C|F&entry.start=D4": {"changes": "C|F"},
    "#lines?changes=C|F&approach=5&approach.reach=4": {"changes": "C|F", "approach": {"reach": 4}},
    '#lines?changes=C|F&ending.use=["plain"]': {"changes": "C|F", "ending": {"use": ["plain"]}},
    "#lines?changes=C|F&own_rules=[1]&else.where=2": {
        "changes": "C|F",
        "own_rules": [1],
        "else": {"where": 2},
    },
}


def test_rules_from_an_address_are_drawn_in_their_shapes() -> None:
    script = f"""
    {SETTLE}
    const {{ readAddress, setTables, state }} = await load("state.js");
    state.vocabulary = given.vocabulary;
    const found = [];
    for (const hash of given.hashes) {{
        location.hash = hash;
        await setTables(readAddress() ?? {{}}, {{ keepNumber: true }});
        found.push(state.tables);
    }}
    return found;
    """
    given = {"vocabulary": vocabulary(Workspace()), "hashes": list(SHAPES)}
    assert run(script, given) == list(SHAPES.values())


def test_each_change_of_rules_can_be_undone_and_gone_back_from() -> None:
    script = f"""
    {SETTLE}
    const {{ change, redo, setTables, state, undo }} = await load("state.js");
    state.vocabulary = given;
    const seen = [];
    const see = () => new Promise((done) => setTimeout(() => done(seen.push(state.tables.changes)), 20));
    await setTables({{ changes: "C | F" }});
    await change({{ changes: "D | G" }});
    await change({{ changes: "E | A" }});
    for (const act of [undo, undo, undo, redo, redo, redo]) {{ act(); await see(); }}
    return [seen, history.steps.map(([how]) => how)];
    """
    seen, steps = run(script, vocabulary(Workspace()))
    assert seen == ["D | G", "C | F", "C | F", "D | G", "E | A", "E | A"]
    assert steps == ["in place", *["new"] * 6]


def test_a_place_scrolled_to_while_rules_are_counted_takes_no_way_back() -> None:
    script = f"""
    {SETTLE}
    const {{ change, setTables, state, writeAddress }} = await load("state.js");
    state.vocabulary = given;
    await setTables({{ changes: "C | F" }});
    const counted = change({{ changes: "D | G" }});
    state.place = "7";
    writeAddress(true);
    await counted;
    return history.steps.map(([how]) => how);
    """
    assert run(script, vocabulary(Workspace())) == ["in place", "new"]


def test_the_rules_that_are_worked_out_before_they_are_asked_for_are_those_of_the_page() -> None:
    assert run('const { state } = await load("store.js"); return state.tables;') == FIRST_RULES


WRONG = [
    ({"changes": "dm7 | G7 | dm7"}, [{"changes": "Dm7 | G7 | Dm7"}]),
    ({"changes": "two-five"}, [{"changes": "two-five-blues"}]),
    ({"changes": "Dm7 | G7", "range": {"instrument": "gitar"}},
     [{"changes": "Dm7 | G7", "range": {"instrument": "guitar"}}]),
    ({"changes": "Dm7 | G7", "approach": {"figures": ["enclosur-2"]}},
     [{"changes": "Dm7 | G7", "approach": {"figures": ["enclosure-2"]}}]),
    ({"changes": "Hm7 | G7"}, []),
]  # fmt: skip


@pytest.mark.parametrize(("tables", "mended"), WRONG)
def test_what_an_error_proposes_is_put_in(tables: dict[str, Any], mended: list[dict[str, Any]]) -> None:
    """The sentence is the real one, for what is wrong."""
    with pytest.raises(InputError) as error:
        parse_rules(tables, load())
    script = """
    const { mendings } = await load("mending.js");
    return mendings(given.sentence, given.tables).map((each) => each.tables);
    """
    assert run(script, {"sentence": str(error.value), "tables": tables}) == mended


def test_the_lesson_is_undone_step_by_step() -> None:
    script = """
    globalThis.localStorage = { kept: {}, getItem(name) { return this.kept[name] ?? null; },
        setItem(name, value) { this.kept[name] = value; } };
    globalThis.addEventListener = () => {};
    const kept = await load("kept.js");
    const { state } = await load("store.js");
    kept.setUpLesson();
    const rules = { changes: "C | F" };
    const line = (number) => ({ tables: rules, number, notes: "C4" });
    kept.keepLines([line("1"), line("2"), line("1")]);
    kept.toggleLine(rules, { number: "3", notes: [{ name: "C4" }, { name: "E4" }] });
    kept.moveLine(2, -2);
    kept.toggleLine(rules, { number: "1", notes: "" });
    const numbers = () => state.lesson.items.map((each) => each.number);
    const seen = [numbers()];
    const { undoLesson, redoLesson } = kept;
    for (const act of [undoLesson, undoLesson, undoLesson, redoLesson]) { act(); seen.push(numbers()); }
    return [seen, JSON.parse(localStorage.kept.lesson).items.length, state.lesson.items[2].notes];
    """
    seen, stored, notes = run(script)
    assert seen == [["3", "2"], ["3", "1", "2"], ["1", "2", "3"], ["1", "2"], ["1", "2", "3"]]
    assert stored == 3 and notes == "C4 E4"


def test_the_smallest_correction_comes_first_and_says_what_to_ring() -> None:
    near = [{"number": "1", "size": 3, "given": [1, 2, 3]}, {"number": "2", "size": 1, "given": [4]}]
    order = [{"number": "1", "size": 2, "given": [1, 2]}]
    found = {"by_onset": near, "by_order": order, "breaches": [{"note": 2}, {"note": None}, {"note": 2}]}
    script = """
    const { ringed, smallestFirst } = await load("corrections.js");
    const none = { ...given, by_onset: [], by_order: [] };
    return [smallestFirst(given).map((each) => [each.number, each.size]), ringed(given), ringed(none)];
    """
    assert run(script, found) == [[["2", 1], ["1", 2]], [4], [1]]


@pytest.mark.parametrize(("one", "other"), [(120, 60), (60, 240), (90, 90)])
def test_another_tempo_goes_on_where_the_first_was(one: int, other: int) -> None:
    def timing(tempo: int, lead: int) -> dict[str, Any]:
        beats = [{"at": beat * 60 / tempo, "lead": beat < lead} for beat in range(lead + 8)]
        seconds = (lead + 8) * 60 / tempo
        return {"seconds": seconds, "bars_start": lead * 60 / tempo, "beats": beats, "notes": []}

    script = """
    const { beatAt, secondsAt } = await load("timing.js");
    const [one, other] = given;
    const heard = (beat) => beatAt(one, secondsAt(one, beat));
    return [-2, 0, 0.25, 3.5, 7.75].map((beat) => beatAt(other, secondsAt(other, heard(beat))));
    """
    found = run(script, [timing(one, 4), timing(other, 4)])
    assert found == pytest.approx([-2, 0, 0.25, 3.5, 7.75])


def test_numbers_and_counts_in_words() -> None:
    script = """
    const { brief, countWords, digits, lines } = await load("words.js");
    const long = brief("12345678901234567");
    return [given.map(countWords), digits("1234567"), long, lines("1"), lines(2000)];
    """
    given = ["0", "1", "0-1", "1-2", "0-2", "2-4", "0-99", "1-99"]
    words, grouped, power, one, many = run(script, given)
    assert words == [
        "none", "one", "none or one", "one or two", "up to two", "two to four", "any number", "one or more",
    ]  # fmt: skip
    assert (grouped, one, many) == ("1\u202f234\u202f567", "1 line", "2\u202f000 lines")
    assert power.startswith("1.23 × 10")


def test_a_change_sets_and_takes_out_keys_and_leaves_the_rest_alone() -> None:
    tables = {"changes": "C | F", "entry": {"beats": ["1"]}, "limit": [{"kind": "no-return"}]}
    script = """
    const { withChange, withKey } = await load("tables.js");
    const made = withChange({ "entry.beats": [], "range.lowest": "E3", title: "x", limit: null }, given);
    return [made, given, withKey({ a: 1, b: 2 }, "a", null)];
    """
    made, before, rest = run(script, json.loads(json.dumps(tables)))
    assert made == {"changes": "C | F", "range": {"lowest": "E3"}, "title": "x"}
    assert before == tables and rest == {"b": 2}


def test_a_loop_goes_from_the_count_in_round_the_bars() -> None:
    # Two seconds counted in, six of bars; then a loop that takes a bar of two seconds for its pickup besides.
    plain = {"bars_start": 2, "seconds": 8, "loop": {"begin": 0, "seconds": 6}}
    pickup = {"bars_start": 2, "seconds": 8, "loop": {"begin": 2, "seconds": 8}}
    script = """
    const { placeInLoop } = await load("loop.js");
    const places = (timing, from) => [0, 1, 2, 7.5, 8, 9, 14].map((gone) => placeInLoop(timing, from, gone));
    return [places(given[0], 0), places(given[1], 0), places(given[0], 5)];
    """
    whole, with_pickup, later = run(script, [plain, pickup])
    assert whole == [0, 1, 2, 7.5, 2, 3, 2]
    # After the last bar comes the bar of the pickup, where the count-in was.
    assert with_pickup == [0, 1, 2, 7.5, 0, 1, 6]
    assert later == [5, 6, 7, 6.5, 7, 2, 7]


def test_a_pickup_is_followed_at_the_end_of_the_last_bar() -> None:
    notes = [{"note": 0, "start": 1.5, "end": 2}, {"note": 1, "start": 2, "end": 3}]
    timing = {"bars_start": 2, "seconds": 8, "notes": notes}
    script = """
    const { noteInLoop } = await load("timing.js");
    return [1.6, 2.5, 4, 7.4, 7.6].map((now) => noteInLoop(given, now));
    """
    assert run(script, timing) == [0, 1, None, None, 0]


def test_the_rate_of_a_sound_is_read_from_its_header() -> None:
    script = """
    const { rateOf } = await load("loop.js");
    const bytes = new Uint8Array(44);
    bytes.set([0x80, 0xbb, 0, 0], 24);
    return rateOf(bytes.buffer);
    """
    assert run(script, None) == 48000
