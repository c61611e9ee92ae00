"""The page of rules says what each rule binds, one path that keeps it, and what the language means."""

from __future__ import annotations

import html as html_lib
import inspect
import re

from build_tools.pages.look_up import LANGUAGE, rules_page
from build_tools.pages.page import Book


def test_each_rule_lists_what_it_binds_and_a_path_that_keeps_it(small_guide):
    guide = small_guide.sound()
    sections = re.findall(
        r'<section id="(.*?)">(.*?)</section>',
        rules_page(Book(guide, guide.settings, guide.operator)).html,
        re.S,
    )
    bound, unbound = dict(sections)["clamp-before-disconnect"], dict(sections)["emergency-says-what-to-do"]
    path = re.findall(r'<li><a href="trees/site/main-earth.html#(.*?)">', bound)
    assert path == ["clamp", "lift"]
    assert "It binds" in bound
    assert "It binds no tree" in unbound
    assert "<li>" not in unbound


def test_the_language_is_told_by_its_docstrings(small_guide):
    guide = small_guide.sound()
    html = re.sub(r"</?code>", "`", rules_page(Book(guide, guide.settings, guide.operator)).html)
    for shape in LANGUAGE:
        told = [*(inspect.getdoc(shape) or "").split("\n\n")]
        told += [field.description or "" for field in shape.model_fields.values()]
        assert all(told)
        for paragraph in told:
            assert html_lib.escape(" ".join(paragraph.split()), quote=False) in html
