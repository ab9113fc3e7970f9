"""What the book once said and people have read, kept line by line under headings: a change of it is meant to be seen."""

from pathlib import Path


def kept(name: str, heading: str) -> list[str]:
    """The lines under a heading of a file beside this one; an empty line ends them."""
    text = Path(__file__).with_name(name).read_text("utf-8")
    _, _, rest = text.partition(f"# {heading}\n")
    return rest.partition("\n\n")[0].splitlines()
