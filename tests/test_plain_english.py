"""Comments, docstrings and documents get plainer: the counts below may only fall."""

from __future__ import annotations

import ast
import re
import subprocess
import sys
from collections import Counter

from deploy.virtualenv import ROOT

ROOMS = ("measurements", "api", "deploy")
# docstrings that do not begin with an imperative verb, as ruff's rule D401 finds them
MOST_NON_IMPERATIVE = 0
# docstrings of functions that begin with an article or a question word
MOST_NOUN_STARTS = 0
# turns of phrase that hide who does what
PHRASES = re.compile(
    r"\b(?:is|are|was|were) (?:told|said|asked|kept)\b|\bstands? (?:in|beside|for)\b|\bof one's own\b"
)
MOST_PHRASES = 22
NOUN_STARTS = {
    "A",
    "An",
    "The",
    "What",
    "Who",
    "Whose",
    "Whether",
    "How",
    "Which",
    "Where",
    "When",
    "Every",
    "All",
}


def test_docstrings_begin_with_an_imperative_verb():
    done = subprocess.run(
        [sys.executable, "-m", "ruff", "check", "--select", "D401", "--output-format", "concise", *ROOMS],
        cwd=ROOT, capture_output=True, text=True, check=False,
    )  # fmt: skip
    assert done.stdout.count(" D401 ") <= MOST_NON_IMPERATIVE


def test_docstrings_do_not_begin_with_a_noun_or_a_question():
    starts = Counter(
        docstring.split()[0]
        for path in _sources()
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8")))
        if isinstance(node, ast.FunctionDef) and (docstring := ast.get_docstring(node))
    )
    assert sum(count for word, count in starts.items() if word in NOUN_STARTS) <= MOST_NOUN_STARTS


def test_sentences_name_who_does_what():
    documents = [
        ROOT / "README.md",
        ROOT / "DEVELOPERS.md",
        *ROOT.glob("deploy/*.md"),
        *ROOT.glob("api/*.md"),
    ]
    pages = ROOT.glob("measurements/pages/**/*.html")
    found = [
        f"{path.relative_to(ROOT)}: {match[0]}"
        for path in [*_sources(), *documents, *pages]
        for match in PHRASES.finditer(path.read_text(encoding="utf-8"))
    ]
    assert len(found) <= MOST_PHRASES, found[-20:]


def _sources():
    return [path for room in ROOMS for path in (ROOT / room).rglob("*.py") if "migrations" not in path.parts]
