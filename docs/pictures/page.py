"""Makes the pictures of the page again, in Debian's ``chromium``; ``make pictures`` runs it."""

from __future__ import annotations

import os
import re
import shutil
import subprocess
import sys
import tempfile
from pathlib import Path

from playwright.sync_api import Browser, sync_playwright

DOCS = Path(__file__).resolve().parents[1]
GUITAR = "changes=Dm7+|+G7+|+Cmaj7&range.instrument=guitar"
DRAWN = "music-strip[data-ready]"
BUILT = f"build?{GUITAR}&begun=[[0,62,240],[240,65,240],[480,69,240]]"
PICTURES = {
    "page-lines.png": ("", f".strip:nth-child(2) {DRAWN}", (1280, 860), "light"),
    "page-line-dark.png": (f"line?{GUITAR}&line=11514332", DRAWN, (1280, 860), "dark"),
    "page-build.png": (BUILT, ".standing", (1280, 860), "light"),
    "page-phone.png": ("", f".strip {DRAWN}", (390, 844), "light"),
}
"""Each picture: what stands in the address, what is waited for, the size of the window, the theme."""
SETTLING = 1500
"""Milliseconds in which what is drawn last is there."""


def draw(browser: Browser, address: str, name: str) -> None:
    """Make one picture."""
    where, awaited, (width, height), theme = PICTURES[name]
    phone = width < 700
    context = browser.new_context(
        viewport={"width": width, "height": height},
        color_scheme="dark" if theme == "dark" else "light",
        has_touch=phone,
        is_mobile=phone,
    )
    page = context.new_page()
    page.goto(f"{address}#{where}")
    page.wait_for_selector(awaited, timeout=60_000)
    page.wait_for_timeout(SETTLING)
    page.screenshot(path=DOCS / name)
    context.close()
    print(name)


def chromium() -> str:
    """The path of the browser."""
    named = os.environ.get("EVERYLINE_CHROMIUM")
    path = named or shutil.which("chromium") or shutil.which("chromium-browser")
    if path is None:
        raise SystemExit("chromium is missing: it is in the system package of that name.")
    return path


def main() -> None:
    """Serve the page, and make all pictures."""
    with tempfile.TemporaryDirectory() as folder:
        students = ["--students", str(Path(folder) / "students.db")]
        command = [sys.executable, "-m", "everyline.cli.main", "serve", "--port", "0", *students]
        with (
            subprocess.Popen(command, stdout=subprocess.PIPE, text=True) as server,
            sync_playwright() as play,
        ):
            try:
                assert server.stdout is not None
                found = re.search(r"http://\S+", server.stdout.readline())
                if found is None:
                    raise SystemExit("the page's server did not start.")
                browser = play.chromium.launch(executable_path=chromium(), args=["--no-sandbox"])
                for name in PICTURES:
                    draw(browser, found[0], name)
                browser.close()
            finally:
                server.terminate()
                server.wait(20)


if __name__ == "__main__":
    main()
