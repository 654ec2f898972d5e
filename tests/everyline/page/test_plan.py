"""A whole tune planned on the page: phrases on the form, own rules, choruses heard, the file, undo."""

from __future__ import annotations

import json
import tomllib
from collections import Counter
from pathlib import Path
from typing import Any

import pytest
from playwright.sync_api import Page, expect

from everyline import load_plan
from everyline.page.operations import Workspace
from everyline.rules.pitch import parse_pitch
from everyline.rules.rule_text import to_toml
from everyline.spaces.choruses import Chorus, parse_plan
from tests.everyline.page.node import run
from tests.everyline.page.served import II_V_I, Served
from tests.everyline.page.visiting import address, take, visit

BLUES: dict[str, Any] = {
    "title": "A blues in three breaths",
    "key": "F",
    "changes": "F7 | Bb7 | F7 | Cm7 F7\nBb7 | Bdim7 | F7 | Am7 D7\nGm7 | C7 | F7 D7 | Gm7 C7",
    "range": {"lowest": "A3", "highest": "C5"},
    "approach": {"figures": ["above-below"], "count": ["0-1"]},
    "ending": {"use": ["plain"]},
    "phrase": [],
}


def chorus(plan: dict[str, Any]) -> Chorus:
    return parse_plan(to_toml(plan))


def choruses(page: Page, plan: dict[str, Any]) -> None:
    """The page has counted the plan, exactly."""
    wanted = f"{chorus(plan).count:,}".replace(",", "\u202f")
    expect(page.locator(".plan .standing")).to_have_text(f"{wanted} choruses of {_phrases(plan)}.")


def _phrases(plan: dict[str, Any]) -> str:
    size = len(plan["phrase"])
    return f"{size} phrase{'s' * (size != 1)}"


def planned(page: Page) -> dict[str, Any]:
    """The plan in the address."""
    from urllib.parse import parse_qs

    found: dict[str, Any] = json.loads(parse_qs(page.url.partition("?")[2])["plan"][0])
    return found


def at(served: Served, plan: dict[str, Any] = BLUES) -> str:
    return address(served, "plan", II_V_I, plan=json.dumps(plan))


def test_phrases_are_put_on_the_form_moved_and_taken_out() -> None:
    """Bars are counted from 1; no two phrases share one."""
    script = """
    const { withPhrase, withBars, without, phraseAt, roomOf, barsOf } = await load("plan-tables.js");
    const first = withPhrase(given, 1, 12).plan;
    const second = withPhrase(first, 7, 12).plan;
    const between = withPhrase(second, 5, 12);
    const moved = withBars(between.plan, 2, [2, 99], 12);
    return {
      bars: [first, second, between.plan, moved].map((each) => each.phrase.map((one) => one.bars)),
      names: between.plan.phrase.map((each) => each.name),
      place: between.place,
      room: roomOf(between.plan, 1, 12),
      at: [4, 5, 11].map((bar) => phraseAt(between.plan, bar)),
      left: without(between.plan, 0).phrase.map(barsOf),
    };
    """
    assert run(script, BLUES) == {
        "bars": [["1-4"], ["1-4", "7-10"], ["1-4", "5-6", "7-10"], ["1-4", "5-6", "7-12"]],
        "names": ["A", "C", "B"],
        "place": 1,
        "room": [5, 6],
        "at": [0, 1, -1],
        "left": [[5, 6], [7, 10]],
    }


@pytest.mark.parametrize("text", ["", "7", "[]", "{}", '{"changes": 3}', '{"changes": "C", "phrase": [1]}'])
def test_what_is_no_plan_is_not_taken_for_one(text: str) -> None:
    assert run("return (await load('plan-tables.js')).planFrom(given);", text) is None


def test_statistics_of_choruses_are_those_of_all_of_them() -> None:
    """Counted over the diagram, and read off every chorus."""
    small = {
        **BLUES,
        "changes": "F7 | Bb7 | F7 | F7",
        "range": {"lowest": "A3", "highest": "F4"},
        "phrase": [{"name": "A", "bars": "1-2"}, {"name": "B", "bars": "3-4"}],
    }
    lines = list(chorus(small))
    workspace = Workspace()
    found = {facet["kind"]: facet["values"] for facet in workspace.do("facets", {"tables": small})}
    assert not {"figure", "target", "ending"} & set(found)
    second = workspace.do("facets", {"tables": small, "phrase": 2, "only": ["figure", "ending"]})
    (figure, _), (plain,) = (facet["values"] for facet in second)
    assert plain == {"label": "plain", "count": str(len(lines)), "change": None}
    assert int(figure["count"]) >= sum(bool(line.phrases[1].line.figures) for line in lines) > 0
    for kind, pick in (("start-note", lambda notes: notes[0]), ("highest-note", lambda notes: max(notes))):
        pitches = Counter(pick([note.pitch for note in line.notes]) for line in lines)
        counted = {parse_pitch(each["label"]): int(each["count"]) for each in found[kind]}
        assert {pitch: count for pitch, count in counted.items() if count} == pitches
        assert all(each["change"] is None for each in found[kind])


def test_every_remedy_of_a_plan_brings_back_what_it_says() -> None:
    high = {"name": "high", "bars": "5-8", "range": {"lowest": "C5", "highest": "A5"}}
    phrases = [{"name": "low", "bars": "1-3", "range": {"lowest": "A3", "highest": "A4"}}, high]
    limit = {"kind": "ambitus", "semitones": 2}
    for plan in ({**BLUES, "join": {"reach": 1}}, {**BLUES, "limit": [limit]}):
        tables = {**plan, "phrase": phrases}
        found = Workspace().do("conflicts", {"tables": tables, "seconds": 60.0})
        assert found["count"] == "0" and found["remedies"]
        for remedy in found["remedies"]:
            after = {**tables, **remedy["change"]}
            mended = {key: value for key, value in after.items() if value is not None}
            assert str(chorus(mended).count) == remedy["count"], remedy["words"]


@pytest.mark.browser
def test_a_blues_is_planned_and_heard(page: Page, served: Served) -> None:
    visit(page, at(served))
    for bar in (1, 5):
        page.get_by_role("button", name=f"bar {bar},").click()
    expect(page.get_by_role("button", name="phrase B")).to_have_count(4)
    plan = {**BLUES, "phrase": [{"name": "A", "bars": "1-4"}, {"name": "B", "bars": "5-8"}]}
    choruses(page, plan)
    page.get_by_label("Name", exact=True).fill("answer")
    page.get_by_label("Last bar").select_option("7")
    page.get_by_label("Begins on beat").select_option("2")
    plan["phrase"][1] = {"name": "answer", "bars": "5-7", "from": "2"}
    choruses(page, plan)
    assert planned(page)["phrase"] == plan["phrase"]
    page.locator(".phrase-editor .part summary").click()
    page.get_by_role("radiogroup", name="Direction").or_(
        page.locator(".phrase-editor fieldset", has_text="up only")
    ).first.get_by_label("up only").check()
    plan["phrase"][1]["arpeggio"] = {"direction": "up"}
    choruses(page, plan)
    strip = page.locator(".chorus music-strip[data-ready]")
    strip.wait_for()
    smooth = next(iter(chorus(plan).smoothest()))
    heading = page.locator(".chorus h3")
    expect(heading).to_contain_text(f"no. {smooth.number:,}".replace(",", "\u202f"))
    expect(heading).to_contain_text("A from bar 1, answer from bar 5")
    page.get_by_text("Statistics of this phrase in all choruses").click()
    figures = page.locator(".phrase-editor .facet").first
    (facet,) = chorus(plan).facets(2, ["figure"])
    expect(figures.locator("td").first).to_have_text(f"{facet.values[0].count:,}".replace(",", "\u202f"))
    page.select_option("label:has-text('Count-in') + select", "0")
    page.get_by_role("button", name="Listen").click()
    page.wait_for_function(
        "() => document.querySelector('.chorus music-strip').shadowRoot.querySelector('.lit') !== null"
    )
    page.get_by_role("button", name="Stop").click()


@pytest.mark.browser
def test_every_change_is_undone_and_the_file_goes_out_and_comes_in(
    page: Page, served: Served, tmp_path: Path
) -> None:
    visit(page, at(served))
    page.get_by_role("button", name="bar 1,").click()
    one = {**BLUES, "phrase": [{"name": "A", "bars": "1-4"}]}
    choruses(page, one)
    page.get_by_role("button", name="bar 9,").click()
    both = {**BLUES, "phrase": [*one["phrase"], {"name": "B", "bars": "9-12"}]}
    choruses(page, both)
    name, data = take(page, "Keep as a plan file")
    assert name == "plan.toml" and tomllib.loads(data.decode()) == both
    (tmp_path / name).write_bytes(data)
    assert load_plan(tmp_path / name).count == chorus(both).count
    page.get_by_role("button", name="Take this phrase out").click()
    choruses(page, one)
    page.get_by_role("button", name="Undo").click()
    choruses(page, both)
    page.locator(".form-bar").first.focus()
    page.keyboard.press("Control+z")
    choruses(page, one)
    page.get_by_role("button", name="Redo").click()
    choruses(page, both)
    page.get_by_role("button", name="Begin again with the rules of the page").click()
    expect(page.locator(".form-bar")).to_have_count(3)
    page.set_input_files("#plan-pick", tmp_path / name)
    choruses(page, both)
    page.reload()
    page.wait_for_selector(".form-bar")
    choruses(page, both)


@pytest.mark.browser
def test_what_is_wrong_is_said_and_the_form_stays(page: Page, served: Served) -> None:
    far = {
        **BLUES,
        "phrase": [{"name": "low", "bars": "1-3", "range": {"lowest": "A3", "highest": "D4"}}],
    }
    visit(page, at(served, far))
    expect(page.locator(".plan .trouble")).to_have_text(f"{chorus(far).why_none}.")
    expect(page.locator(".form-bar")).to_have_count(12)
    # Without a chorus there are no statistics, nor a word where they would be.
    expect(page.locator(".plan")).not_to_contain_text("null")
    remedy = page.locator(".remedies button").last
    promised = remedy.locator(".leaves").inner_text()
    remedy.click()
    expect(page.locator(".plan .standing")).to_have_text(f"{promised} choruses of 1 phrase.")
    expect(page.locator(".remedies")).to_have_count(0)
    assert planned(page)["phrase"] != far["phrase"]
    page.get_by_role("button", name="Undo").click()
    page.locator(".remedies button").first.wait_for()
    assert planned(page) == far
    page.get_by_label("The chord changes of the whole form").fill("F7 | Hm7")
    page.get_by_label("The chord changes of the whole form").press("Tab")
    expect(page.locator(".plan .trouble")).to_contain_text("Hm7")
    expect(page.locator(".remedies")).to_have_count(0)
