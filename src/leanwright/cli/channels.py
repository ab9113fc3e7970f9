"""``leanwright channels``: what was understood of a file, before any analysis."""

import click

from leanwright.cli import options


@click.command("channels")
@click.argument("recording", metavar="RECORDING")
@options.columns
@options.remember
@options.interval
@options.language
@options.plain
@click.option(
    "--lines",
    is_flag=True,
    help="Show what each line was taken for, and the first cells beside their reading.",
)
@options.as_json
def command(
    *,
    recording: str,
    corrections: tuple[str, ...],
    remember: bool,
    row_interval_s: float | None,
    language: str,
    plain: bool,
    lines: bool,
    as_json: bool,
) -> int:
    """What was understood of a RECORDING: columns, units and how each became known, rows skipped and why."""
    from leanwright.workbench.opening import open_recordings

    opened = open_recordings(
        [recording], corrections=corrections, keep_corrections=remember, row_interval_s=row_interval_s
    )
    if as_json:
        from leanwright.report.document import channels_document

        options.print_json(channels_document(opened))
        return 0
    from leanwright.report.text import channels_text

    ascii_only = options.ascii_only(plain=plain)
    click.echo(channels_text(opened, language=language, ascii_only=ascii_only, lines=lines))
    return 0
