"""The fixed files: whole, as they were taken, and nothing but what is ours."""

import hashlib
import re
from importlib.resources import files

from leanwright.web.files import fixed_files
from leanwright.web.show import templates
from tests.web.wire import Browser

STATIC = files("leanwright.web").joinpath("static")


def test_what_was_taken_from_others_is_unchanged() -> None:
    lines = STATIC.joinpath("SHA256SUMS").read_text("ascii").splitlines()
    listed = {name: digest for digest, name in (line.split() for line in lines)}
    assert listed.keys() == {"uplot.js", "uplot.css"}
    for name, digest in listed.items():
        assert hashlib.sha256(STATIC.joinpath(name).read_bytes()).hexdigest() == digest


def test_our_files_name_no_other_place() -> None:
    for name, content in fixed_files().items():
        if name.endswith((".js", ".css")) and not name.startswith("uplot"):
            assert re.findall(rb"https?://(?!www\.w3\.org/)", content) == [], name


def test_no_template_holds_script_or_style_that_the_policy_refuses() -> None:
    environment = templates()
    for name in environment.list_templates():
        text = environment.loader.get_source(environment, name)[0] if environment.loader else ""
        assert not re.search(r"\sstyle=|<style|\son\w+=|javascript:", text), name
        for attributes, body in re.findall(r"<script([^>]*)>(.*?)</script>", text, re.DOTALL):
            assert not body.strip() or "application/json" in attributes, name
        assert "| safe" not in text


def test_every_file_that_a_page_names_is_there(browser: Browser) -> None:
    environment = templates()
    named = set()
    for name in environment.list_templates():
        text = environment.loader.get_source(environment, name)[0] if environment.loader else ""
        named |= set(re.findall(r'"(/static/[^"]+)"', text))
    style = browser.get("/static/style.css")
    named |= set(re.findall(r"url\((/static/[^)]+)\)", style.text))
    assert len(named) >= 8
    assert {name: browser.get(name).status for name in named} == dict.fromkeys(named, 200)
