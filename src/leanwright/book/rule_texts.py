"""The rules as they were read, in public text copies: each citation names the copy and its date.

Not legal advice: the text in force holds.
"""

from typing import Final

from leanwright.told import Told

ECFR_AUGUST: Final = Told("eCFR copy of {day}", day="2026-08-24")
ECFR_SEPTEMBER: Final = Told("eCFR copy of {day}", day="2026-09-03")
UK_2020: Final = "UK Continuing Airworthiness Regulations, consolidation 201121"
UK_ANO: Final = Told("legislation.gov.uk, version of {day}", day="2019-03-13")
