"""Ground runs and ignition checks of a recording, as lines of text: evidence that the balance does not rest on."""

from leanwright.analysis.measured import RecordingResult
from leanwright.report.cells import quantity
from leanwright.report.numbers import clock
from leanwright.report.units import sign_of
from leanwright.report.words import Voice


def short_evidence(result: RecordingResult, voice: Voice) -> str:
    """One line for the terminal; empty where there is nothing of the kind."""
    if not result.ground_runs and not result.ignition_checks:
        return ""
    return voice.label("kept-evidence", runs=len(result.ground_runs), checks=len(result.ignition_checks))


def long_evidence(result: RecordingResult, voice: Voice) -> tuple[str, ...]:
    """Each run and each check with its numbers, for the page."""
    runs = [
        voice.label(
            "ground-run",
            start=clock(run.start_s),
            end=clock(run.end_s),
            speed=quantity(run.engine_speed_rpm, "rpm", 0, voice),
        )
        for run in result.ground_runs
    ]
    checks = [
        voice.label(
            "ignition-check-line",
            start=clock(check.start_s),
            end=clock(check.end_s),
            rises=", ".join(
                f"{number}: {quantity(value, 'df', 0, voice)}"
                for number, value in sorted(check.response_df.items())
            ),
            unit=sign_of("df", voice.units),
        )
        for check in result.ignition_checks
    ]
    return (*runs, *checks)
