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

__all__ = ["Frame", "Picture", "picture", "story_html"]


@dataclass(frozen=True, slots=True)
class Picture:
    """A street's drawing, and the same figures as sentences."""

    svg: str
    said: tuple[str, ...]


def picture(
    network: Network, healthy: Network, home: str | None = None, lifted: Collection[str] = (), name: str = ""
) -> Picture:
    """The drawing of street_svg and the sentences of street_text, made from one look at the network."""
    seen = see(network, healthy)
    said = in_words(seen)
    return Picture(seen_svg(seen, said, home, lifted, name or "street"), said)


@dataclass(frozen=True, slots=True)
class Frame:
    """One picture of a story and its words. `told` marks the one that the figures beside it are for."""

    title: str
    words: str
    picture: Picture
    told: bool = False


def story_html(frames: Sequence[Frame]) -> str:
    """The frames as labelled figures in one element; a page may show them one after the other (`ln-story`).

    Each frame's picture needs a name of its own.
    """
    places = (f"{number} of {len(frames)}" for number, _ in enumerate(frames, 1))
    return element("div", *map(_figure, frames, places), class_="ln-story", data_story="")


def _figure(frame: Frame, place: str) -> str:
    """One frame: its words, its picture, and the picture's figures as a list."""
    heading = element("b", escape(f"{place}. {frame.title}."))
    marked = " " + element("span", "The figures here are for this.", class_="ln-told") if frame.told else ""
    said = (element("li", escape(line)) for line in frame.picture.said)
    return element(
        "figure",
        element("figcaption", heading, escape(f" {frame.words}"), marked),
        frame.picture.svg,
        element("details", element("summary", "The same in words"), element("ul", *said, class_="ln-plain")),
        class_="ln-frame",
    )
