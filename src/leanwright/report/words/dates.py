"""Dates in words, for sentences and screens: "12 April 2031". On paper, in files and as values of JSON they stay ISO 8601."""

from datetime import date, datetime

from leanwright.report.words.catalogue import Catalogue
from leanwright.told import Told


def day_in_words(day: date | str, catalogue: Catalogue) -> str:
    r"""A day with the name of its month; a text that is no ISO date stays as it is.

    Examples
    --------
    >>> from leanwright.report.words.catalogue import load
    >>> day_in_words("2031-04-12", load("de")).replace("\N{NO-BREAK SPACE}", " ")
    '12. April 2031'
    """
    try:
        found = day if isinstance(day, date) else date.fromisoformat(day)
    except ValueError:
        return str(day)
    months = catalogue.form("months")
    return str(catalogue.form("day").format(day=found.day, month=months[found.month - 1], year=found.year))


def moment_in_words(moment: datetime | str, catalogue: Catalogue) -> str:
    r"""A day and the time on its clock, to the minute; a text that is no ISO time stays as it is.

    Examples
    --------
    >>> from leanwright.report.words.catalogue import load
    >>> moment_in_words("2031-04-12T14:32:10Z", load("en")).replace("\N{NO-BREAK SPACE}", " ")
    '12 April 2031, 14:32'
    """
    try:
        found = moment if isinstance(moment, datetime) else datetime.fromisoformat(moment)
    except ValueError:
        return str(moment)
    return f"{day_in_words(found.date(), catalogue)}, {found:%H:%M}"


def with_days_in_words(text: Told, catalogue: Catalogue) -> Told:
    """The same text with each date among its values, and among those of the texts in it, in words."""
    return Told(text.pattern, **{key: _in_words(value, catalogue) for key, value in text.values.items()})


def _in_words(value: object, catalogue: Catalogue) -> object:
    if isinstance(value, Told):
        return with_days_in_words(value, catalogue)
    if isinstance(value, datetime):
        return moment_in_words(value, catalogue)
    return day_in_words(value, catalogue) if isinstance(value, date) else value
