"""The page in a real Chromium: each piece of work from beginning to end."""

from __future__ import annotations

import io
import tomllib
import wave
from pathlib import Path

import pytest
from playwright.sync_api import Page, expect

from everyline.rules.rule_text import to_toml
from tests.everyline.page.served import II_V_I, Served
from tests.everyline.page.visiting import (
    CHANGES,
    NO_LINE,
    address,
    count,
    counted,
    space,
    take,
    unfold,
    visit,
)

pytestmark = pytest.mark.browser


def test_changes_typed_are_counted_at_once(page: Page, served: Served) -> None:
    visit(page, f"{served.address}/")
    guitar = {"range": {"instrument": "guitar"}}
    assert count(page) == space({"changes": "Dm7 | G7 | Cmaj7", **guitar}).count
    page.fill(CHANGES, "Cm7 | F7 | Bbmaj7")
    page.press(CHANGES, "Enter")
    expect(page.locator("#over")).to_contain_text("Cm7 | F7 | Bbmaj7")
    assert count(page) == space({"changes": "Cm7 | F7 | Bbmaj7", **guitar}).count


def test_a_wrong_rule_is_named_and_mended(page: Page, served: Served) -> None:
    visit(page, address(served, "lines"))
    page.fill(CHANGES, "Dm7 | Hm7 | Cmaj7")
    page.press(CHANGES, "Enter")
    expect(page.locator("#trouble")).to_contain_text("Hm7")
    page.fill(CHANGES, "dm7 | G7 | Cmaj7")
    page.press(CHANGES, "Enter")
    page.get_by_role("button", name="Use Dm7").click()
    expect(page.locator("#trouble")).to_be_hidden()
    assert count(page) == space().count


def test_wrong_rules_can_be_mended_as_text(page: Page, served: Served) -> None:
    wrong = {**II_V_I, "changes": "Dm7 | Hm7 | Cmaj7"}
    visit(page, address(served, "lines", wrong))
    page.click("#file-open")
    area = page.get_by_label("The rule file, as text")
    expect(area).to_have_value(to_toml(wrong))
    area.fill(to_toml(II_V_I))
    page.get_by_role("button", name="Use this text").click()
    expect(page.locator("#trouble")).to_be_hidden()
    assert count(page) == space().count


def test_each_choice_shows_what_it_would_leave(page: Page, served: Served) -> None:
    visit(page, address(served, "lines"))
    unfold(page)
    if not page.locator("#part-handoff").get_attribute("open"):
        page.click("#part-handoff summary")
    chip = page.locator("#part-handoff label.chip", has_text="guide")
    wanted = space({**II_V_I, "handoff": {"rule": "guide"}}).count
    expect(chip.locator(".leaves")).to_have_text(f"{wanted:,}".replace(",", "\u202f"))
    chip.click()
    expect(page.locator("#count")).to_have_text(f"{wanted:,} lines".replace(",", "\u202f"))
    assert "handoff.rule=guide" in page.url


def test_passing_notes_rhythm_and_a_narrowed_instrument_are_chosen(page: Page, served: Served) -> None:
    tables = {**II_V_I, "range": {"instrument": "guitar"}, "approach": {"count": ["0"]}}
    visit(page, address(served, "lines", tables))
    unfold(page)
    page.click("#part-passing summary")
    page.get_by_label("scale tones").check()
    page.get_by_label("on or off the beat").check()
    page.get_by_role("radiogroup", name="each chord").nth(0).get_by_label("none or one").check()
    page.click("#part-rhythm summary")
    page.get_by_label("two eighths", exact=False).first.check()
    page.get_by_label("Another rhythm, in note values").fill("r8 8, 4. 8")
    page.get_by_label("Another rhythm, in note values").press("Enter")
    page.click("#part-range summary")
    page.get_by_role("textbox", name="Lowest note").fill("A3")
    page.get_by_role("textbox", name="Lowest note").press("Enter")
    wanted = {
        **tables,
        "range": {"instrument": "guitar", "lowest": "A3"},
        "passing": {"kinds": ["scale"], "place": "any", "count": ["0-1"]},
        "rhythm": {"cells": ["8 8", "r8 8", "4. 8"]},
    }
    expect(page.locator("#count")).to_have_text(f"{space(wanted).count:,} lines".replace(",", "\u202f"))
    expect(page.locator("#part-range .part-says")).to_have_text("Guitar, from A3")


def test_lines_are_fetched_as_they_come_into_sight(page: Page, served: Served) -> None:
    tables = {"changes": "Dm7 | G7 | Cmaj7"}
    visit(page, address(served, "lines", tables))
    whole = space(tables)
    page.wait_for_selector(".strip music-strip[data-ready]")
    assert page.locator(".strip").count() < 30
    page.fill("#jump", "2000000")
    page.press("#jump", "Enter")
    link = page.get_by_role("link", name="Line 2000000:")
    expect(link).to_be_visible()
    names = " ".join(note.name for note in whole.line(2_000_000).notes)
    assert names in (link.get_attribute("aria-label") or "")
    page.mouse.move(900, 500)
    page.mouse.wheel(0, 3000)
    expect(page.get_by_role("link", name="Line 2000018:")).to_be_visible()
    assert page.locator(".strip").count() < 30
    page.fill("#jump", "99999999999")
    page.press("#jump", "Enter")
    expect(page.get_by_role("link", name=f"Line {whole.count}:")).to_be_visible()


@pytest.mark.parametrize(("words", "order"), [("Smoothest first", "smooth"), ("Varied", "varied")])
def test_orders(page: Page, served: Served, words: str, order: str) -> None:
    visit(page, address(served, "lines"))
    page.get_by_role("button", name=words).click()
    wanted = [line.number for line in (space().smoothest(3) if order == "smooth" else space().varied(3))]
    for number in wanted:
        expect(page.get_by_role("link", name=f"Line {number}:")).to_be_visible()
    shown = page.locator(".strip .number").all_inner_texts()[:3]
    assert [int("".join(c for c in text if c.isdigit())) for text in shown] == wanted
    assert f"order={order}" in page.url


def test_an_opened_line_explains_every_note(page: Page, served: Served) -> None:
    visit(page, address(served, "line", line="17"))
    line = space().line(17)
    rows = page.locator("table.notes tbody tr")
    expect(rows).to_have_count(len(line.notes))
    for place, note in enumerate(line.notes):
        row = rows.nth(place).inner_text()
        assert note.name in row and note.role in row
    page.wait_for_selector("music-strip[data-ready]")
    page.get_by_role("button", name="Next line").click()
    expect(page.locator("h2")).to_contain_text(["The rules", "No. 18"])
    # Whoever goes on by keyboard need not look for the button again.
    expect(page.get_by_role("button", name="Next line")).to_be_focused()
    page.go_back()
    expect(page.locator(".one-line h2")).to_contain_text("No. 17")


def test_listening_lights_the_notes_that_sound(page: Page, served: Served) -> None:
    visit(page, address(served, "line", line="17"))
    page.wait_for_selector("music-strip[data-ready]")
    page.select_option("label:has-text('Count-in') + select", "0")
    page.get_by_role("button", name="Listen").click()
    page.wait_for_selector("tr.now", timeout=60_000)
    # What is lit is what the timing says of this moment, on the staff and in the table alike.
    page.wait_for_function(
        """() => {
        const strip = document.querySelector('music-strip');
        const lit = [...strip.shadowRoot.querySelectorAll('.lit')].map((each) => each.id);
        const rows = [...document.querySelectorAll('table.notes tbody tr')];
        const row = rows.findIndex((each) => each.matches('.now'));
        return row >= 2 && lit.includes(`n1-${row}`);
    }"""
    )
    page.get_by_role("button", name="Stop").click()
    expect(page.locator("tr.now")).to_have_count(0)


SPY = """
const make = AudioContext.prototype.createBufferSource;
window.rounds = [];
AudioContext.prototype.createBufferSource = function () {
  const source = make.call(this);
  window.rounds.push([source, this]);
  return source;
};
"""


def test_a_loop_goes_round_without_a_gap(page: Page, served: Served) -> None:
    page.add_init_script(SPY)
    visit(page, address(served, "line", line="17"))
    page.wait_for_selector("music-strip[data-ready]")
    page.select_option("label:has-text('Count-in') + select", "0")
    page.fill("label:has-text('Tempo') + input", "400")
    page.get_by_label("Loop").check()
    page.get_by_role("button", name="Listen").click()
    page.wait_for_selector("tr.now", timeout=60_000)
    # The browser's clock of samples takes the sound round: its bars, whole, at the rate they were made at.
    loop, frames, rate, context = page.evaluate(
        """() => {
        const [source, context] = window.rounds.at(-1);
        return [source.loop, source.buffer.length, source.buffer.sampleRate, context.sampleRate];
    }"""
    )
    assert loop and rate == context
    assert frames == round(space().rules.progression.bars * 4 * 60 / 400 * rate)
    last = page.locator("table.notes tbody tr").count() - 1
    page.wait_for_selector(f"table.notes tbody tr:nth-child({last + 1}).now")
    page.wait_for_selector("table.notes tbody tr:nth-child(1).now")
    page.get_by_role("button", name="Stop").click()
    expect(page.locator("tr.now")).to_have_count(0)


def test_what_is_taken_away_reads_back_as_the_line(page: Page, served: Served, downloads: Path) -> None:
    """Read back with music21, mido and the standard library's wave."""
    import mido
    import music21

    visit(page, address(served, "line", line="17"))
    pitches = [note.pitch for note in space().line(17).notes]
    name, data = take(page, "MusicXML")
    assert name == "line-17.musicxml"
    (downloads / name).write_bytes(data)
    score = music21.converter.parse(downloads / name)
    assert [note.pitch.midi for note in score.parts[0].flatten().notes if note.isNote] == pitches
    name, data = take(page, "MIDI")
    track = next(each for each in mido.MidiFile(file=io.BytesIO(data)).tracks if each.name == "Line")
    assert [m.note for m in track if m.type == "note_on" and m.velocity] == pitches
    name, data = take(page, "Sound (WAV)")
    with wave.open(io.BytesIO(data)) as sound:
        assert sound.getnframes() / sound.getframerate() > 6
    name, data = take(page, "PDF to print")
    assert data[:5] == b"%PDF-" and b"%%EOF" in data[-16:]


def test_no_line_left_says_why_and_one_click_mends_it(page: Page, served: Served) -> None:
    visit(page, address(served, "lines", NO_LINE))
    expect(page.locator("#count")).to_have_text("0 lines")
    page.wait_for_selector(".exclusions", timeout=60_000)
    expect(page.locator(".exclusions")).to_contain_text("no leap is larger than 2 semitones")
    remedy = page.locator(".remedies button").first
    promised = int("".join(c for c in remedy.locator(".leaves").inner_text() if c.isdigit()))
    remedy.click()
    expect(page.locator("#count")).not_to_have_text("0 lines")
    assert count(page) == promised > 0


def test_a_typed_line_is_checked(page: Page, served: Served) -> None:
    visit(page, address(served, "check"))
    line = space().line(40)
    names = [note.name for note in line.notes]
    text = " ".join([*names[:-1], f"{names[-1]}:4"])
    page.get_by_label("The notes", exact=True).fill(text)
    page.get_by_role("button", name="Check it").click()
    expect(page.locator(".verdict")).to_contain_text("no. 40")
    names[2] = "C#4"
    page.get_by_label("The notes", exact=True).fill(" ".join([*names[:-1], f"{names[-1]}:4"]))
    page.get_by_role("button", name="Check it").click()
    expect(page.locator(".verdict")).to_contain_text("Not a line")
    # The wrong note is ringed on the staff and no other; its line is among the nearest.
    page.wait_for_function(
        "() => { const strip = document.querySelector('.answer > music-strip')?.shadowRoot;"
        " return strip?.querySelectorAll('#n1-2 .ring').length === 1"
        " && strip.querySelectorAll('.ring').length === 1; }"
    )
    expect(page.locator(".near").first).to_be_visible()
    assert "No. 40" in "".join(page.locator(".near b").all_inner_texts())


def test_a_line_is_played_on_the_fretboard_and_the_keyboard(page: Page, served: Served) -> None:
    visit(page, address(served, "check"))
    page.get_by_role("button", name="string 4, fret 0: D3, out of range").click()
    page.get_by_role("button", name="string 2, fret 3: D4").click()
    page.get_by_label("Play it on").select_option("keys")
    page.get_by_role("button", name="B♭4").click()
    notes = page.get_by_label("The notes", exact=True)
    expect(notes).to_have_value("D3 D4 Bb4")
    page.get_by_role("button", name="Take the last note back").click()
    expect(notes).to_have_value("D3 D4")


@pytest.mark.parametrize("form", ["musicxml", "mid"])
def test_a_dropped_file_is_checked(page: Page, served: Served, downloads: Path, form: str) -> None:
    rules = served.rules(II_V_I)
    data = served.client.get(f"/api/rules/{rules['id']}/lines/40/take/{form}").content
    (downloads / f"line.{form}").write_bytes(data)
    visit(page, address(served, "check"))
    page.set_input_files("#line-file", downloads / f"line.{form}")
    expect(page.locator(".verdict")).to_contain_text("no. 40", timeout=60_000)


def test_the_rule_file_goes_out_and_comes_in(page: Page, served: Served, downloads: Path) -> None:
    visit(page, address(served, "lines"))
    page.click("#file-open")
    area = page.get_by_label("The rule file, as text")
    assert tomllib.loads(area.input_value()) == II_V_I
    name, data = take(page, "Keep as a file")
    assert name == "rules.toml" and tomllib.loads(data.decode()) == II_V_I
    other = {"changes": "Em7 | A7 | Dmaj7", "arpeggio": {"direction": "up"}}
    (downloads / "other.toml").write_text(to_toml(other))
    page.set_input_files("#file-pick", downloads / "other.toml")
    expect(page.locator("#over")).to_contain_text("Em7")
    assert count(page) == space(other).count


def test_an_address_reopens_what_it_shows(page: Page, served: Served) -> None:
    visit(page, address(served, "line", line="23"))
    page.wait_for_selector("music-strip[data-ready]")
    seen = page.locator("table.notes").inner_text()
    other = page.context.browser.new_page()  # type: ignore[union-attr]
    visit(other, page.url)
    other.wait_for_selector("table.notes")
    assert other.locator("table.notes").inner_text() == seen
    other.close()


def test_a_line_is_built_note_by_note_and_cut(page: Page, served: Served) -> None:
    whole = space()
    first = whole.line(40).events
    visit(page, address(served, "build"))
    for place, event in enumerate(first[:3]):
        following = whole.after(first[:place])
        expect(page.locator(".standing b")).to_have_text(counted(following.count))
        counts = {note.event: note.count for note in following.notes}
        choice = page.locator(f".next-note[data-pitch='{event.pitch}']")
        expect(choice.locator(".leaves")).to_have_text(counted(counts[event]).split(" ")[0])
        choice.click()
    expect(page.locator(".standing b")).to_have_text(counted(whole.after(first[:3]).count))
    page.get_by_role("button", name="Take back").click()
    expect(page.locator(".standing b")).to_have_text(counted(whole.after(first[:2]).count))
    page.get_by_role("button", name="smoothest").click()
    smooth = next(line for line in whole.smoothest() if line.events[:2] == first[:2])
    expect(page.locator(".whole-line")).to_contain_text(f"No. {smooth.number:,}".replace(",", "\u202f"))
    page.get_by_role("button", name="Open it").click()
    page.get_by_role("button", name="note 4 and go on otherwise").click()
    expect(page.locator(".standing b")).to_have_text(counted(whole.after(smooth.events[:4]).count))


def test_a_far_line_is_come_back_to(page: Page, served: Served) -> None:
    visit(page, address(served, "lines", {"changes": "Dm7 | G7 | Cmaj7"}, order="number"))
    page.fill("#jump", "2000000")
    page.press("#jump", "Enter")
    page.get_by_role("link", name="Line 2000000:").wait_for()
    for tool in (page.locator("#jump"), page.get_by_role("button", name="Varied"), page.locator("#top")):
        expect(tool).to_be_in_viewport()
    page.get_by_role("link", name="Line 2000000:").click()
    page.get_by_role("button", name="Back to the lines").click()
    expect(page.get_by_role("link", name="Line 2000000:")).to_be_in_viewport()
    page.locator("#top").click()
    expect(page.get_by_role("link", name="Drills")).to_be_in_viewport()


def test_changed_rules_are_undone(page: Page, served: Served) -> None:
    visit(page, address(served, "lines"))
    unfold(page)
    page.fill(CHANGES, "Cm7 | F7 | Bbmaj7")
    page.press(CHANGES, "Enter")
    expect(page.locator("#over")).to_contain_text("Cm7 | F7 | Bbmaj7")
    page.locator("#begin-file").select_option(index=1)
    expect(page.locator("#over")).not_to_contain_text("Cm7 | F7 | Bbmaj7")
    page.get_by_role("button", name="Undo").click()
    expect(page.locator("#over")).to_contain_text("Cm7 | F7 | Bbmaj7")
    page.locator("#part-range summary").focus()
    page.keyboard.press("Control+z")
    expect(page.locator("#over")).to_contain_text("Dm7 | G7 | Cmaj7")
    page.get_by_role("button", name="Redo").click()
    expect(page.locator("#over")).to_contain_text("Cm7 | F7 | Bbmaj7")


def test_no_choice_moves_while_its_count_is_new(page: Page, served: Served) -> None:
    visit(page, address(served, "lines"))
    unfold(page)
    page.click("#part-entry summary")
    page.locator("#part-entry .leaves").first.wait_for()
    places = """(text) => [...document.querySelectorAll('#rules label.chip')].map((chip) => {
        const leaves = chip.querySelector('.leaves');
        if (leaves) leaves.textContent = text;
        return [chip.offsetLeft, chip.offsetTop];
    })"""
    assert page.evaluate(places, "…") == page.evaluate(places, "19\u202f212\u202f335")


def test_the_first_view_is_eight_good_lines_to_be_heard(page: Page, served: Served) -> None:
    """Unlike each other also in other octaves: no two have the same pitch classes."""
    visit(page, f"{served.address}/")
    picked = space({"changes": "Dm7 | G7 | Cmaj7", "range": {"instrument": "guitar"}}).pick()
    for line in picked[:2]:
        expect(page.get_by_role("link", name=f"Line {line.number}:")).to_be_visible()
    assert len({tuple(note.pitch % 12 for note in line.notes) for line in picked}) == 8
    row = page.locator(".strip").first
    row.locator("music-strip[data-ready]").wait_for()
    row.get_by_role("button", name="Play line").click()
    page.wait_for_function(
        "() => document.querySelector('.strip music-strip').shadowRoot.querySelector('.lit') !== null"
    )
    row.get_by_role("button", name="Play line").click()
    expect(row.get_by_role("button", name="Play line")).to_have_text("Play")
