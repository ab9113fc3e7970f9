"""A probability as a bar beside its percentage: filled from the left, the outline is certainty."""

from leanwright.report.figures.svg import ornament, rect

WIDTH, HEIGHT = 90.0, 10.0


def share_bar(share: float) -> str:
    """The bar of a share between 0 and 1, beside the number that says the same."""
    inside = WIDTH - 2.0
    return ornament(
        WIDTH,
        HEIGHT,
        [
            rect("bar-frame", 0.5, 0.5, WIDTH - 1.0, HEIGHT - 1.0),
            rect("bar", 1.0, 1.0, inside * share, HEIGHT - 2.0),
        ],
        form="share",
    )
