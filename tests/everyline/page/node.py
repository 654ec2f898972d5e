"""The page's own modules run without a browser, in the JavaScript runtime that comes with playwright."""

from __future__ import annotations

import json
import subprocess
from pathlib import Path
from typing import Any

from playwright._impl._driver import compute_driver_executable

STATIC = Path(__file__).parents[3] / "everyline" / "page" / "static"


def runtime() -> str:
    """The path of the runtime."""
    found = compute_driver_executable()
    return str(found[0] if isinstance(found, tuple) else found)


def run(script: str, given: Any = None) -> Any:
    """What a script answers. It is the body of an async function; ``given`` is what is given, and
    ``load("words.js")`` a module of the page."""
    wrapped = f"""
    const load = (name) => import({json.dumps(STATIC.as_uri())} + "/" + name);
    const given = JSON.parse((await import("node:fs")).readFileSync(0, "utf8"));
    const answer = await (async () => {{ {script} }})();
    console.log(JSON.stringify(answer ?? null));
    """
    words = [runtime(), "--no-warnings", "--input-type=module", "--eval", wrapped]
    done = subprocess.run(
        words, input=json.dumps(given), capture_output=True, text=True, check=False, timeout=60
    )
    assert done.returncode == 0, done.stderr
    return json.loads(done.stdout)
