"""The rules as they were read, in public text copies: each citation names the copy and its date.

Not legal advice: the text in force holds.
"""

from typing import Final

ECFR_AUGUST: Final = "eCFR copy of 2026-08-24"
ECFR_SEPTEMBER: Final = "eCFR copy of 2026-09-03"
UK_2020: Final = "UK Continuing Airworthiness Regulations, consolidation 201121"
UK_ANO: Final = "legislation.gov.uk, version of 2019-03-13"
