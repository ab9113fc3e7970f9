"""Where the program keeps what belongs to the user."""

from pathlib import Path


def memory_place() -> Path:
    """Where corrections are remembered: the user's own data folder."""
    import platformdirs

    return Path(platformdirs.user_data_dir("leanwright", appauthor=False)) / "layouts.json"


def learned_place() -> Path:
    """Where it is kept what each round taught of an engine: the user's own data folder."""
    import platformdirs

    return Path(platformdirs.user_data_dir("leanwright", appauthor=False)) / "learned.json"


def cache_place() -> Path:
    """Where what can be made anew is kept: the user's own cache folder."""
    import platformdirs

    return Path(platformdirs.user_cache_dir("leanwright", appauthor=False))


def desk_place(book: str) -> Path:
    """Where the recordings of a book are kept: beside its file; beside the user's own book where it is a database."""
    from leanwright.workbench.records import default_place

    place = Path(default_place() if "://" in book else book)
    return place.expanduser().absolute().parent / "leanwright-desk"
