"""The forms of the files of nozzles and aircraft, as data: the reader checks against them, the reference page shows them."""

from typing import Final, get_args

from leanwright.engine.profile import FuelSystem
from leanwright.errors import UnusableAircraftError, UnusableNozzleSetError, UnusableStockError
from leanwright.workbench.file_form import Field, Form, Table

CHECKS: Final = (
    "compression",
    "intake-leak",
    "ignition-timing",
    "plugs",
    "probes",
    "fuel-system",
    "break-in",
)
"""What has to be healthy before any order (common practice)."""
FURTHER_CHECKS: Final = ("valve-lift",)
"""What is asked for only where a cylinder may get little air: a compression test sees no worn cam (common practice)."""
ALL_CHECKS: Final = (*CHECKS, *FURTHER_CHECKS)

_STEP = Field("step_percent", "number", "flow over that of the standard nozzle, in percent more or less")
_FLOW = Field(
    "flow_gph", "number", "flow at the pressure of standard_flow_gph, US gal/h; instead of step_percent"
)
_STANDARD = Field(
    "standard_flow_gph", "number", "flow of the standard nozzle, US gal/h; needed where flow_gph is used"
)
_U = Field("u_percent", "number", "standard uncertainty of that flow, in percent")

NOZZLE_SET: Final = Form(
    "leanwright/nozzle-set/1",
    "Nozzle set",
    "What nozzles can be had and which positions each may go to; `leanwright plan --nozzles FILE`.",
    (
        Table(
            "",
            "",
            (
                Field("name", "text", "what the set is called", required=True),
                Field("document", "text", "document and revision that carries its rules"),
                _STANDARD,
            ),
        ),
        Table(
            "tolerance",
            "how far a new nozzle's flow may lie off its nominal one; ± 0.5 percent, uniform, where it is not said",
            (
                Field(
                    "percent", "number", "half-width if uniform, standard deviation if normal", required=True
                ),
                Field(
                    "shape",
                    "text",
                    "of the distribution; uniform where it is not said",
                    choices=("uniform", "normal"),
                ),
            ),
        ),
        Table(
            "groups",
            "a position group, named as the set's document names it: the positions that keep to all that is given",
            (
                Field(
                    "rows",
                    "list",
                    'rows: "front", "middle", "rear", "front mid", "rear mid", or numbers, 1 the front',
                ),
                Field("banks", "list of texts", '"left", "right", seen from the cockpit'),
                Field("cylinders", "list of whole numbers", "numbers of cylinders"),
            ),
            named=True,
        ),
        Table(
            "nozzle",
            "one size; each marking once",
            (
                Field("marking", "text", "as it stands on the nozzle", required=True),
                _STEP,
                _FLOW,
                Field(
                    "groups", "list of texts", "groups that it may go to; any position where none is named"
                ),
                Field("tolerance_percent", "number", "its own tolerance instead of the set's"),
            ),
            many=True,
            required=True,
        ),
    ),
    """\
format = "leanwright/nozzle-set/1"
name = "Pennygill set (invented)"
document = "PG-12 revision C (invented)"

[tolerance]
percent = 0.5
shape = "uniform"

[groups.R]
rows = ["rear"]
[groups.MF]
rows = ["middle", "front"]

[[nozzle]]
marking = "Q7-097"
step_percent = -3
groups = ["MF"]

[[nozzle]]
marking = "Q7-100"
step_percent = 0
groups = ["R", "MF"]

[[nozzle]]
marking = "Q7-104"
step_percent = 4
groups = ["R", "MF"]
""",
    UnusableNozzleSetError,
)

STOCK: Final = Form(
    "leanwright/stock/1",
    "Stock",
    "What lies on the shelf; `leanwright plan --stock FILE`. Position rules come from the set: name it too.",
    (
        Table("", "", (_STANDARD,)),
        Table(
            "nozzle",
            "nozzles of one marking, or one nozzle with a flow of its own",
            (
                Field("marking", "text", "as it stands on the nozzle", required=True),
                Field("quantity", "whole number", "how many there are; 1 where it is not said"),
                Field(
                    "step_percent",
                    "number",
                    "own bench flow over the standard nozzle's, in percent more or less",
                ),
                Field("flow_gph", "number", "own bench flow, US gal/h; instead of step_percent"),
                _U,
            ),
            many=True,
            required=True,
        ),
    ),
    """\
format = "leanwright/stock/1"

[[nozzle]]
marking = "Q7-104"
quantity = 2

[[nozzle]]
marking = "Q7-097"
step_percent = -2.8
u_percent = 0.1
""",
    UnusableStockError,
)

AIRCRAFT: Final = Form(
    "leanwright/aircraft/1",
    "Aircraft",
    "The aircraft, its engine, what is fitted, what was checked, and the owner's prices; `leanwright plan --aircraft FILE`.",
    (
        Table("", "", (_STANDARD,)),
        Table(
            "aircraft",
            "which aircraft it is, for the check of an approval",
            (
                Field("type", "text", "type and model, as its papers say"),
                Field("serial", "text", "serial number"),
                Field("modifications", "list of texts", "other modifications on file"),
            ),
        ),
        Table(
            "engine",
            "its engine",
            (
                Field("model", "text", "model, as its plate says"),
                Field("serial", "text", "serial number"),
                Field(
                    "numbered_from",
                    "text",
                    "from which end its cylinders are counted, as its manual says",
                    choices=("rear", "front"),
                ),
                Field("fuel_system", "text", "injected where it is not said", choices=get_args(FuelSystem)),
            ),
        ),
        Table(
            "fitted",
            "the nozzle in one cylinder; the standard nozzle where a cylinder is not named",
            (
                Field("cylinder", "whole number", "its number", required=True),
                Field("marking", "text", "as it stands on the nozzle"),
                Field(
                    "step_percent",
                    "number",
                    "own bench flow over the standard nozzle's, in percent more or less",
                ),
                Field(
                    "flow_gph",
                    "number",
                    "own bench flow, US gal/h, with standard_flow_gph; instead of step_percent",
                ),
                _U,
            ),
            many=True,
        ),
        Table(
            "check",
            "what was looked at before any order, and what was found",
            (
                Field("what", "text", "what was checked", required=True, choices=ALL_CHECKS),
                Field("date", "text", "year-month-day", required=True),
                Field("result", "text", "what was found", required=True, choices=("sound", "not sound")),
            ),
            many=True,
        ),
        Table(
            "prices",
            "what a change costs and what fuel does, all in one currency",
            (
                Field("part", "number", "of one nozzle", required=True),
                Field("labour", "number", "for each position worked on", required=True),
                Field("fuel_per_gallon", "number", "of fuel, by the US gallon", required=True),
                Field("hours_per_year", "number", "flown leaned in a year, h", required=True),
                Field("once", "number", "for an order as a whole"),
                Field("currency", "text", "its sign or code"),
            ),
        ),
    ),
    """\
format = "leanwright/aircraft/1"

[aircraft]
type = "Hollowbrook Tarn (invented)"
serial = "T-0412"

[engine]
model = "Stonewick Six (invented)"
serial = "S6-1177"
numbered_from = "rear"
fuel_system = "injected"

[[fitted]]
cylinder = 3
marking = "Q7-100"

[[check]]
what = "compression"
date = "2031-05-02"
result = "sound"

[prices]
part = 48.0
labour = 60.0
fuel_per_gallon = 7.5
hours_per_year = 120.0
currency = "EUR"
""",
    UnusableAircraftError,
)
