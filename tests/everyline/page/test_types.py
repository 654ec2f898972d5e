"""The page's code: the types that it states in its comments, and functions that fit a screen."""

from __future__ import annotations

import os
import shutil
import subprocess
from pathlib import Path

import pytest

from everyline.page.script import CannotJoin, joined
from tests.conftest import IN_CI
from tests.everyline.page.node import STATIC, run

TSC = os.environ.get("EVERYLINE_TSC") or shutil.which("tsc")
LONGEST_FUNCTION, LONGEST_LINE = 40, 120

needs_compiler = pytest.mark.skipif(
    TSC is None and not IN_CI, reason="no tsc here: install node-typescript, or set EVERYLINE_TSC"
)


def compiler() -> Path:
    """The path of the TypeScript compiler."""
    assert TSC is not None, "CI installs the system package node-typescript"
    return Path(TSC)


@needs_compiler
def test_the_types_hold() -> None:
    project = STATIC.parent / "tsconfig.json"
    done = subprocess.run([compiler(), "-p", str(project)], capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stdout


FUNCTIONS = """
const { createRequire } = await import("node:module");
const { readFileSync } = await import("node:fs");
const ts = createRequire(import.meta.url)(given.compiler);
const found = [];
for (const path of given.paths) {
  const source = ts.createSourceFile(path, readFileSync(path, "utf8"), ts.ScriptTarget.ES2022, true);
  const line = (place) => source.getLineAndCharacterOfPosition(place).line + 1;
  const visit = (node) => {
    if (ts.isFunctionLike(node)) {
      const [first, last] = [line(node.getStart()), line(node.end)];
      found.push([path, first, last - first + 1]);
    }
    ts.forEachChild(node, visit);
  };
  visit(source);
}
return found;
"""


@needs_compiler
def test_no_function_is_longer_than_a_screen() -> None:
    library = compiler().resolve().parents[1] / "lib" / "typescript.js"
    paths = [str(path) for path in sorted(STATIC.glob("*.js"))]
    found = run(FUNCTIONS, {"compiler": str(library), "paths": paths})
    assert len(found) > 500
    assert [each for each in found if each[2] > LONGEST_FUNCTION] == []


def test_no_line_holds_several_thoughts() -> None:
    long = [
        (path.name, place)
        for path in STATIC.glob("*.js")
        for place, line in enumerate(path.read_text("utf-8").splitlines(), 1)
        if len(line) > LONGEST_LINE
    ]
    assert long == []


def test_every_module_is_checked_and_short() -> None:
    assert '"static/*.js"' in (STATIC.parent / "tsconfig.json").read_text()
    for path in STATIC.glob("*.js"):
        text = path.read_text("utf-8")
        assert "@ts-nocheck" not in text and "@ts-ignore" not in text, path.name
        assert text.count("\n") <= 420, path.name


# -- one script out of all modules ---------------------------------------------------------------------------


def test_modules_are_joined_in_the_order_in_which_they_need_each_other() -> None:
    modules = {
        "main.js": 'import { two as second } from "./b.js";\nimport * as a from "./a.js";\n'
        "globalThis.found = [second, a.one, a.List.name];\n",
        "a.js": "export const one = 1;\nexport class List {}\n",
        "b.js": 'export { one } from "./a.js";\nimport { one } from "./a.js";\nconst two = one + 1;\n'
        "export { two };\n",
    }
    assert run(f"{joined(modules, 'main.js')}; return globalThis.found;") == [2, 1, "List"]


@pytest.mark.parametrize(
    ("modules", "message"),
    [
        ({"main.js": 'import "./a.js";\n', "a.js": 'import "./main.js";\n'}, "in a circle"),
        ({"main.js": 'import "./none.js";\n'}, "there is no module none.js"),
        ({"main.js": "export default 1;\n"}, "no form of import or export"),
        ({"main.js": "export let one = 1;\n"}, "no form of import or export"),
        ({"main.js": 'const a = await import("./a.js");\n'}, "no form of import or export"),
    ],
)
def test_what_cannot_be_joined_is_said(modules: dict[str, str], message: str) -> None:
    with pytest.raises(CannotJoin, match=message):
        joined(modules, "main.js")
