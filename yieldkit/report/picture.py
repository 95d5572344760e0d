"""A figure with its own words: alternative text and caption, as one piece of HTML."""

from __future__ import annotations

import base64
import io
import warnings
from collections.abc import Callable
from typing import NamedTuple

from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.figure import Figure

from yieldkit.report.page import escape, visible

INK = "#1b1b1b"
LINE = "#8a8a8a"
COLOURS = ("#2b5c8a", "#c8741a", "#4f7f3c", "#8a3b6e", "#6b6b6b", "#a89a1e", "#2f8f8f", "#a34a3a")
HATCHES = ("", "//", "..", "xx", "\\\\", "oo", "--", "++")
MARKERS = ("o", "s", "^", "D", "v", "P", "X", "*")
LINES = ("-", "--", "-.", ":")


class Picture(NamedTuple):
    """A figure, what it shows in words, and its caption.

    Parameters
    ----------
    figure : Figure
        The figure.
    alt : str
        Alternative text: a sentence with the numbers.
    caption : str
        Caption under the figure.
    """

    figure: Figure
    alt: str
    caption: str

    def png(self) -> bytes:
        """Return the figure as PNG."""
        stream = io.BytesIO()
        FigureCanvasAgg(self.figure)
        with warnings.catch_warnings():
            # A name in a script the font lacks shows boxes; that is no reason to stop.
            warnings.filterwarnings("ignore", message="Glyph .* missing from font")
            self.figure.savefig(stream, format="png", dpi=130, bbox_inches="tight")
        return stream.getvalue()

    def _repr_html_(self) -> str:
        data = base64.b64encode(self.png()).decode("ascii")
        return (
            f'<figure><img alt="{escape(self.alt)}" src="data:image/png;base64,{data}">'
            f"<figcaption>{escape(self.caption)}</figcaption></figure>"
        )


class Html(NamedTuple):
    """A piece of our own HTML for a notebook to show."""

    text: str

    def _repr_html_(self) -> str:
        return self.text


def new_figure(width: float = 9.0, height: float = 4.0) -> Figure:
    """Return an empty figure in our look [inches]."""
    return Figure(figsize=(width, height), layout="constrained")


def label(text: object, longest: int = 40) -> str:
    """Return text for a figure: short, and without signs that start formulas."""
    short = visible(text)
    short = short if len(short) <= longest else short[: longest - 1] + "…"
    return short.replace("$", r"\$")


def quiet_axes(axes: object) -> None:
    """Take away what carries no information from axes."""
    for side in ("top", "right"):
        axes.spines[side].set_visible(False)
    axes.tick_params(color=LINE)
    axes.grid(axis="y", color="#e3e3e3", linewidth=0.8)
    axes.set_axisbelow(True)


def each_row(count: int, draw: Callable[[object, int], None], height: float) -> Figure:
    """Return a figure with `count` axes above one another, each drawn by a function."""
    figure = new_figure(9.0, height * count)
    grid = figure.subplots(count, 1, squeeze=False)
    for index in range(count):
        draw(grid[index, 0], index)
    return figure
