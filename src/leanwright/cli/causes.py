"""``leanwright causes``: why the cylinders differ."""

from pathlib import Path

import click

from leanwright.cli import asked, options


@click.command("causes", cls=asked.Several, several=frozenset({"--before"}))
@click.argument("recordings", nargs=-1, required=True, metavar="RECORDING...")
@asked.evidence
@asked.of_engine
@asked.showing
@asked.html
def command(
    *,
    recordings: tuple[str, ...],
    evidence: asked.Evidence,
    of: asked.Engine,
    showing: asked.Showing,
    html: Path | None,
) -> int:
    """Why the cylinders differ, from RECORDINGs of one engine in one state.

    Each cause is weighed on all evidence together: sweeps, ignition checks, earlier recordings, a bottle test. Where
    that cannot tell, the check or flight is named that would.
    """
    from leanwright.cli.main import EXIT_NO_ANSWER
    from leanwright.workbench.explain import explain

    given = evidence.read()
    explained = explain(*of.measured_apart(recordings, evidence.before), given)
    if html is not None:
        from leanwright.report.answer_page import causes_page

        asked.write_page(
            html, causes_page(explained, units=showing.units, language=showing.language), showing
        )
    if showing.as_json:
        from leanwright.report.causes_document import causes_document

        options.print_json(causes_document(explained, units=showing.units, language=showing.language))
    else:
        from leanwright.report.causes_text import causes_text

        click.echo(
            causes_text(
                explained, units=showing.units, language=showing.language, ascii_only=showing.ascii_only
            )
        )
    return 0 if explained.causes is not None else EXIT_NO_ANSWER
