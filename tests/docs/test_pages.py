"""The pages keep what they promise: links lead somewhere, commands can be typed as they stand."""

import re
import shlex
from pathlib import Path
from urllib.parse import urlsplit

import pytest
from typer.main import get_command

from finmeasure.cli import app

PROJECT = Path(__file__).parents[2]
PAGES = sorted(
    page
    for pattern in ("*.md", "sample_images/*.md", ".github/**/*.md", "docs/*.md", "docs/*/*.md")
    for page in PROJECT.glob(pattern)
    if page.parent.name not in ("generated", "_build")
)
COMMANDS = get_command(app).commands
LINK = re.compile(r"!?\[[^\]]*\]\(([^)\s]+)\)")
ADDRESS = re.compile(r"https?://[^\s<>\"')\]`]+")
FENCE = re.compile(r"```[^\n]*\n(.*?)```", re.DOTALL)
INLINE = re.compile(r"`(finmeasure [^`]+)`")


def names(pages):
    return [str(page.relative_to(PROJECT)) for page in pages]


def anchors(page):
    """Anchors of the headings of a Markdown page, by the rule that hosts and the handbook share."""
    text = FENCE.sub("", page.read_text(encoding="utf-8"))
    headings = re.findall(r"(?m)^#{1,6} (.+)$", text)
    plain = (re.sub(r"[^\w\- ]", "", heading.lower()) for heading in headings)
    return {heading.strip().replace(" ", "-") for heading in plain}


def without_fences(page):
    return FENCE.sub("", page.read_text(encoding="utf-8"))


@pytest.mark.parametrize("page", PAGES, ids=names(PAGES))
def test_links_within_the_project_lead_somewhere(page):
    for target in LINK.findall(without_fences(page)):
        if urlsplit(target).scheme:
            continue
        name, _, anchor = target.partition("#")
        file = (page.parent / name) if name else page
        if "generated" in file.parts:
            continue  # made by the build of the handbook, where a missing one is an error
        assert file.exists(), target
        if anchor:
            assert anchor in anchors(file), target


@pytest.mark.parametrize("page", PAGES, ids=names(PAGES))
def test_addresses_are_well_formed(page):
    for address in ADDRESS.findall(page.read_text(encoding="utf-8")):
        parts = urlsplit(address.rstrip(".,;"))
        assert re.fullmatch(r"([a-z0-9-]+\.)+[a-z]{2,}", parts.hostname or ""), address
        assert parts.port is None, address
        assert "//" not in parts.path, address


def typed_lines(page):
    """Lines with a command of ours in the blocks of a page, continued lines joined."""
    blocks = FENCE.findall(page.read_text(encoding="utf-8"))
    lines = "\n".join(blocks).replace("\\\n", " ").splitlines()
    return [line.strip() for line in lines if line.strip().startswith("finmeasure ")]


TYPED = sorted({" ".join(line.split()) for page in PAGES for line in typed_lines(page)})


@pytest.mark.parametrize("line", TYPED)
def test_commands_in_blocks_can_be_typed_as_they_stand(line):
    name, *arguments = shlex.split(line)[1:]
    if name == "--help":
        return
    # reads every option and its value as the command itself would; nothing is run
    COMMANDS[name].make_context(name, arguments)


@pytest.mark.parametrize("page", PAGES, ids=names(PAGES))
def test_commands_and_options_within_sentences_exist(page):
    for told in INLINE.findall(without_fences(page)):
        _, name, *rest = told.split()
        if name.startswith("-"):
            continue
        options = {o for p in COMMANDS[name].params for o in (*p.opts, *p.secondary_opts)}
        assert {word for word in rest if word.startswith("--")} <= options | {"--help"}, told


def test_what_make_is_told_to_do_exists():
    targets = set(re.findall(r"(?m)^([a-z]+):", (PROJECT / "Makefile").read_text(encoding="utf-8")))
    for page in PAGES:
        blocks = "\n".join(FENCE.findall(page.read_text(encoding="utf-8")))
        told = re.findall(r"(?m)^make ([a-z]+)", blocks)
        told += re.findall(r"`make ([a-z]+)`", without_fences(page))
        assert set(told) <= targets, page
