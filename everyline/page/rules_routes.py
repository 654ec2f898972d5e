"""Addresses that are about rules: their count, what choices would leave, why no line is left."""

from __future__ import annotations

import json

from starlette.responses import Response

from everyline.corpora.errors import InputError
from everyline.page.calls import Call, Route, as_json, attachment
from everyline.page.params import BY_RULES, NUMBER, RULES_ID
from everyline.page.schemas import FREE, many, table, text, whole

LONGEST_RULES = 100_000
"""Characters of a rule file."""

MOST_PHRASES = 9999
"""A bar of a form has four digits at most."""

COUNT_REPLY = table({"id": RULES_ID, "count": NUMBER}, {})
COUNT_REPLY["additionalProperties"] = True


async def _vocabulary(call: Call) -> Response:
    return as_json(await call.run("vocabulary"))


async def _corpus_rules(call: Call) -> Response:
    return as_json(await call.run("corpus_rules", name=call.path["name"]))


async def _send_rules(call: Call) -> Response:
    if ("tables" in call.body) == ("text" in call.body):
        raise InputError("send the rules either as tables or as text.")
    tables = call.body.get("tables")
    if tables is None:
        tables = await call.run("read_rules", text=call.body["text"])
    elif len(json.dumps(tables)) > LONGEST_RULES:
        raise InputError(f"the rules are longer than {LONGEST_RULES} characters, which no rule file needs.")
    found = await call.run("summary", tables=tables)
    return as_json({"id": call.server.sets.keep(tables), "tables": tables, **found})


async def _rules(call: Call) -> Response:
    found = await call.run("summary", tables=call.tables)
    return as_json({"id": call.path["rules"], "tables": call.tables, **found})


async def _toml(call: Call) -> Response:
    made: str = await call.run("toml", tables=call.tables)
    return attachment(made.encode(), "application/toml", "rules.toml")


async def _written(call: Call) -> Response:
    made: str = await call.run("toml", tables=call.body["tables"])
    return attachment(made.encode(), "application/toml", "rules.toml")


async def _example(call: Call) -> Response:
    change, tables = call.body["change"], call.body.get("tables")
    return as_json(await call.run("example", change=change, tables=tables))


async def _choices(call: Call) -> Response:
    seconds = call.server.seconds * 0.6
    found = await call.run("choices", tables=call.tables, changes=call.body["changes"], seconds=seconds)
    return as_json({"choices": found})


async def _facets(call: Call) -> Response:
    only, phrase = call.query.get("only") or None, call.query.get("phrase")
    return as_json({"facets": await call.run("facets", tables=call.tables, only=only, phrase=phrase)})


async def _conflicts(call: Call) -> Response:
    seconds = call.server.seconds * 0.8
    return as_json(await call.run("conflicts", tables=call.tables, seconds=seconds))


RULES_ROUTES: tuple[Route, ...] = (
    Route("GET", "/api/vocabulary", "vocabulary", "Keys, limits, figures, endings and so on.", _vocabulary),
    Route(
        "GET",
        "/api/corpus/rules/{name}",
        "corpus_rules",
        "A rule file of the corpora, as text and as tables.",
        _corpus_rules,
        in_path={"name": text(100, least=1)},
    ),
    Route(
        "POST",
        "/api/rules",
        "send_rules",
        "Send rules, as tables or as the text of a rule file; the answer counts their lines.",
        _send_rules,
        body=table({}, {"tables": FREE, "text": text(LONGEST_RULES)}),
        reply=COUNT_REPLY,
    ),
    Route("GET", "/api/rules/{rules}", "rules", "The rules again.", _rules, BY_RULES, reply=COUNT_REPLY),
    Route(
        "GET",
        "/api/rules/{rules}/rules.toml",
        "rule_file",
        "The rule file.",
        _toml,
        BY_RULES,
        answers="application/toml",
    ),
    Route(
        "POST",
        "/api/example",
        "example",
        "A short line that shows a rule: what it changes, by dotted key.",
        _example,
        body=table({"change": FREE}, {"tables": FREE}),
    ),
    Route(
        "POST",
        "/api/toml",
        "written",
        "The text of a rule file with these tables, even if invalid, so that it can be corrected as text.",
        _written,
        body=table({"tables": FREE}),
        answers="application/toml",
    ),
    Route(
        "POST",
        "/api/rules/{rules}/choices",
        "choices",
        "How many lines each of several changes to the rules would leave.",
        _choices,
        BY_RULES,
        body=table({"changes": many(FREE, 32, 1)}),
    ),
    Route(
        "GET",
        "/api/rules/{rules}/facets",
        "facets",
        "How many lines have each start note, figure, target, ending and so on; of a phrase of a plan, how "
        "many choruses.",
        _facets,
        BY_RULES,
        {"only": {"type": "array", "items": text(40), "maxItems": 16}, "phrase": whole(1, MOST_PHRASES)},
    ),
    Route(
        "GET",
        "/api/rules/{rules}/conflicts",
        "conflicts",
        "Why there is no line: rules that exclude each other, and the least changes that bring lines back; "
        "of a chorus plan these changes alone.",
        _conflicts,
        BY_RULES,
    ),
)
