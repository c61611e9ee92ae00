"""A street told in a few frames, one picture each: as it was, what broke, and what then was done."""

from __future__ import annotations

from collections.abc import Collection, Sequence
from dataclasses import dataclass
from html import escape

from calc.drawing.ink import element
from calc.drawing.seen import see
from calc.drawing.street import seen_svg
from calc.drawing.words import in_words
from calc.street import Network

__all__ = ["Frame", "story_html"]


@dataclass(frozen=True, slots=True)
class Frame:
    """One picture and its words. `told` marks the one that the figures beside the story are for."""

    title: str
    words: str
    network: Network
    lifted: Collection[str] = ()
    told: bool = False


def story_html(
    frames: Sequence[Frame], healthy: Network, home: str | None = None, name: str = "story"
) -> str:
    """The frames as labelled figures in one element; a page may show them one after the other (`ln-story`).

    `healthy` and `home` as for street_svg; `name` begins every id. Raises CircuitError as the solutions do.
    """
    pictures = (
        _figure(frame, f"{number} of {len(frames)}", healthy, home, f"{name}-{number}")
        for number, frame in enumerate(frames, 1)
    )
    return element("div", *pictures, class_="ln-story", data_story="")


def _figure(frame: Frame, place: str, healthy: Network, home: str | None, name: str) -> str:
    """One frame: its words, its picture, and the picture's figures as a list."""
    picture, said = _picture(frame.network, healthy, home, tuple(frame.lifted), name)
    heading = element("b", escape(f"{place}. {frame.title}."))
    marked = " " + element("span", "The figures here are for this.", class_="ln-told") if frame.told else ""
    return element(
        "figure",
        element("figcaption", heading, escape(f" {frame.words}"), marked),
        picture,
        element("details", element("summary", "The same in words"), element("ul", *said, class_="ln-plain")),
        class_="ln-frame",
    )


def _picture(
    network: Network, healthy: Network, home: str | None, lifted: tuple[str, ...], name: str
) -> tuple[str, list[str]]:
    seen = see(network, healthy)
    return seen_svg(seen, home, lifted, name), [element("li", escape(line)) for line in in_words(seen)]
