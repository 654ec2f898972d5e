"""The Python examples of the README and the docs run and answer what they show."""

import doctest
import re
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[2]
PAGES = [
    page
    for page in (ROOT / "README.md", *sorted((ROOT / "docs").glob("*.md")))
    if ">>> " in page.read_text(encoding="utf-8")
]


@pytest.mark.parametrize("page", PAGES, ids=lambda page: page.name)
def test_python_examples(page: Path, tmp_path: Path, monkeypatch) -> None:
    monkeypatch.chdir(tmp_path)
    blocks = re.findall(r"^```python\n(.*?)^```$", page.read_text(encoding="utf-8"), re.MULTILINE | re.DOTALL)
    source = "\n".join(block for block in blocks if ">>> " in block)
    test = doctest.DocTestParser().get_doctest(source, {}, page.name, str(page), 0)
    outcome = doctest.DocTestRunner(optionflags=doctest.NORMALIZE_WHITESPACE).run(test)
    assert outcome.attempted > 0
    assert outcome.failed == 0
