"""Names of columns. The truth is the table below, written by hand: what a person of the trade would read."""

import sys

import pytest

from leanwright.recordings.label import Label, is_unit_cell, read_label, read_unit

UNDERSTOOD: dict[str, Label] = {
    # Cylinder number wherever it stands.
    "EGT1": Label("egt", 1),
    "EGT 1": Label("egt", 1),
    "EGT-01": Label("egt", 1),
    "EGT_6": Label("egt", 6),
    "egt_0": Label("egt", 0),
    "EGT[0]": Label("egt", 0),
    "EGT #3 (deg F)": Label("egt", 3, unit="degF"),
    "1 EGT": Label("egt", 1),
    "#2 CHT": Label("cht", 2),
    "No. 4 EGT": Label("egt", 4),
    "EGT ④": Label("egt", 4),
    "EGT three": Label("egt", 3),
    "Cyl 1 EGT": Label("egt", 1),
    "EGT Cyl. 5 [°C]": Label("egt", 5, unit="degC"),
    "EGTcyl3": Label("egt", 3),
    "egtCyl3_degC": Label("egt", 3, unit="degC"),
    "EGT_C1": Label("egt", 1),
    "C2 EGT": Label("egt", 2),
    "E.G.T. 2": Label("egt", 2),
    "cyl 2 exhaust gas temp": Label("egt", 2),
    "Exhaust Gas Temperature Cylinder 4 [°C]": Label("egt", 4, unit="degC"),
    "Exhaust temp. 1": Label("egt", 1),
    "T EGT 5": Label("egt", 5),
    "CYLHEADTEMP2": Label("cht", 2),
    "Cylinder 3 head temperature": Label("cht", 3),
    "Cyl 1 temp (F)": Label("cht", 1, unit="degF"),
    "CHT-03-°C": Label("cht", 3, unit="degC"),
    "EGT": Label("egt"),
    "EGT 1 (degrees F)": Label("egt", 1, unit="degF"),
    "EGT 1 [Degrees Celsius]": Label("egt", 1, unit="degC"),
    "EGT1 (Â°F)": Label("egt", 1, unit="degF"),
    "Fuel flow (gallons per hour)": Label("fuel_flow", unit="gal/h"),
    "MAP (in Hg abs)": Label("manifold_pressure", unit="inHg"),
    # One letter: only with the values' consent.
    "E1": Label("egt", 1, weak=True),
    "C4": Label("cht", 4, weak=True),
    # Figures over several cylinders.
    "EGT max": Label("egt", several=True),
    "hottest CHT": Label("cht", several=True),
    "CHT hottest cylinder": Label("cht", several=True),
    "EGT spread (F)": Label("egt", several=True, unit="degF"),
    "EGT 1-6 range": Label("egt", several=True),
    "avg EGT": Label("egt", several=True),
    # Two engines.
    "L EGT1": Label("egt", 1, side="left"),
    "EGT1 R": Label("egt", 1, side="right"),
    "Left engine EGT 4": Label("egt", 4, side="left"),
    "E1 EGT2": Label("egt", 2, engine=1),
    "Eng 2 CHT 4 [°C]": Label("cht", 4, engine=2, unit="degC"),
    "E2 RPM": Label("engine_speed", engine=2, unit="rpm", unit_implied=True),
    "FF2": Label("fuel_flow", 2),
    "RPM L": Label("engine_speed", side="left", unit="rpm", unit_implied=True),
    # Flow, speed, pressure.
    "FF": Label("fuel_flow"),
    "FFgph": Label("fuel_flow", unit="gal/h"),
    "FF (gal/hr)": Label("fuel_flow", unit="gal/h"),
    "Fuel Flow USGPH": Label("fuel_flow", unit="gal/h"),
    "GPH": Label("fuel_flow", unit="gal/h"),
    "LPH": Label("fuel_flow", unit="L/h"),
    "Fuel (lb/h)": Label("fuel_flow", unit="lb/h"),
    "fuel_flow_kg/h": Label("fuel_flow", unit="kg/h"),
    "RPM": Label("engine_speed", unit="rpm", unit_implied=True),
    "Engine speed [1/min]": Label("engine_speed", unit="rpm"),
    "Tach": Label("engine_speed"),
    "Tach (h)": Label("engine_hours", unit="h"),
    "M.A.P. (in.Hg)": Label("manifold_pressure", unit="inHg"),
    "MAP inHg": Label("manifold_pressure", unit="inHg"),
    'MAP "Hg': Label("manifold_pressure", unit="inHg"),
    "Manifold Pressure (mbar)": Label("manifold_pressure", unit="hPa"),
    "Man Press kPa": Label("manifold_pressure", unit="kPa"),
    # Oil, fuel, air.
    "OilT": Label("oil_temperature"),
    "OIL P": Label("oil_pressure"),
    "T_oil [°C]": Label("oil_temperature", unit="degC"),
    "Oil (psi)": Label("oil_pressure", unit="psi"),
    "Oil (degF)": Label("oil_temperature", unit="degF"),
    "Fuel P": Label("fuel_pressure"),
    "Fuel press. (bar)": Label("fuel_pressure", unit="bar"),
    "OAT °C": Label("outside_air_temperature", unit="degC"),
    "Outside air temp": Label("outside_air_temperature"),
    "TIT1": Label("turbine_inlet_temperature", 1),
    # Flight.
    "ALT": Label("altitude"),
    "GPS Alt (m)": Label("altitude", unit="m"),
    "Pressure Alt ft": Label("pressure_altitude", unit="ft"),
    "IAS (kts)": Label("indicated_airspeed", unit="kt"),
    "GS": Label("ground_speed"),
    "Ground speed km/h": Label("ground_speed", unit="km/h"),
    "latitude": Label("latitude"),
    "Lon (deg)": Label("longitude", unit="deg"),
    # Electrics, fuel, power.
    "Bus volts": Label("bus_voltage", unit="V", unit_implied=True),
    "volts 2": Label("bus_voltage", 2, unit="V", unit_implied=True),
    "ALT AMPS": Label("bus_current", unit="A", unit_implied=True),
    "fuel used (gal)": Label("fuel_used", unit="gal"),
    "Fuel rem": Label("fuel_remaining"),
    "Engine hours": Label("engine_hours", unit="h", unit_implied=True),
    "% Power": Label("percent_power", unit="percent", unit_implied=True),
    "Power": Label("percent_power"),
    # Time.
    "Time": Label("time"),
    "Time (s)": Label("time", unit="s"),
    "Elapsed (min)": Label("time", unit="min"),
    "Time [hh:mm:ss]": Label("time", time_form="hh:mm:ss"),
    "Elapsed_ms": Label("time", strange_unit="ms"),
    "Time (ms)": Label("time", strange_unit="ms"),
    "UTC": Label("time"),
    "Date/Time": Label("time"),
    "Timestamp": Label("time"),
    "Local date": Label("date"),
    "Date (dd/mm/yyyy)": Label("date", time_form="dd/mm/yyyy"),
    "Row": Label("row_number"),
    "Sample #": Label("row_number"),
    # Units that are known and not converted.
    "Ground speed (m/s)": Label("ground_speed", strange_unit="m/s"),
    "Fuel flow (imp gal/h)": Label("fuel_flow", strange_unit="imp gal/h"),
    # Other languages, read together with English.
    "Zylinder 3 Abgastemperatur [°C]": Label("egt", 3, unit="degC"),
    "Öldruck (bar)": Label("oil_pressure", unit="bar"),
    "Ladedruck hPa": Label("manifold_pressure", unit="hPa"),
    "Zeit": Label("time"),
    "Höhe (m)": Label("altitude", unit="m"),
    "Temp. échappement 2 (°C)": Label("egt", 2, unit="degC"),
    "Température de l'huile (°C)": Label("oil_temperature", unit="degC"),
    "Régime (tr/min)": Label("engine_speed", unit="rpm"),
    "Temps (s)": Label("time", unit="s"),
    "CHT temps": Label("cht"),
    "Temperatura culata cilindro 4 (°C)": Label("cht", 4, unit="degC"),
    "Presión de admisión [inHg]": Label("manifold_pressure", unit="inHg"),
    "Portata carburante (l/h)": Label("fuel_flow", unit="L/h"),
    "Data": Label("date"),
    "EGT1 data": Label("egt", 1),
    "Vazão de combustível L/h": Label("fuel_flow", unit="L/h"),
    # Words in brackets that are no unit do no harm.
    "EGT1 (bayonet)": Label("egt", 1),
}
NOT_UNDERSTOOD: dict[str, tuple[str, ...]] = {
    "cabin altitude": ("cabin",),
    "density altitude (ft)": ("density",),
    "selected altitude": ("selected",),
    "EGT limit": ("limit",),
    "CHT 3 alarm": ("alarm",),
    "TAS (kt)": ("tas",),
    "true airspeed": ("true",),
    "Vertical speed (ft/min)": ("vertical",),
    "Carb temp (F)": ("carb",),
    "Induction air temp": ("induction", "air"),
    "Compressor discharge temp": ("compressor", "discharge"),
    "Fuel Qty L (gal)": ("qty",),
    "Fuel level right": ("level",),
    "UTC offset": ("offset",),
    "Time to destination": ("to", "destination"),
    "Heading": ("heading",),
    "EGT1 (V)": (),
    "EGT 1 rpm": (),
    "max EGT 1": (),
    "CHT cooling rate": ("cooling",),
    "max RPM": (),
    "MAP CHT": (),
    "EGT 1 2": (),
    "EGT 1350": (),
    "Left right EGT 1": (),
    "E1 E2 EGT 1": (),
    "E EGT": (),
    "E": (),
    "OilX": ("x",),
    "Temp 3": (),
    "Speed": (),
    "V": (),
    "psi": (),
    "oil": (),
    "oil fuel temp": (),
    "oil (psi) temp": (),
    "Fuel flow gal/h kg/h": (),
    "": (),
    "?!": (),
    "飛行": ("飛行",),
}


@pytest.mark.parametrize("name", UNDERSTOOD)
def test_a_name_is_read_as_a_person_would(name: str) -> None:
    assert read_label(name) == UNDERSTOOD[name]


@pytest.mark.parametrize("name", NOT_UNDERSTOOD)
def test_a_name_with_any_strange_word_is_not_forced_into_a_meaning(name: str) -> None:
    label = read_label(name)
    assert (label.quantity, label.not_understood) == (None, NOT_UNDERSTOOD[name])


@pytest.mark.parametrize(
    ("text", "unit"),
    [
        ("degF", "degF"), ("°F", "degF"), ("ºC", "degC"), ("deg. F", "degF"), ("[F]", "degF"), ("(c)", "degC"),
        ("GPH", "gal/h"), ("US gal/h", "gal/h"), ("[gal_us]/h", "gal/h"), ("l/h", "L/h"), ("lbs/hr", "lb/h"),
        ("in.Hg", "inHg"), ('"Hg', "inHg"), ("mbar", "hPa"), ("PSI", "psi"), ("lbf/in²", "psi"), ("1/min", "rpm"),
        ("min⁻¹", "rpm"), ("RPM", "rpm"), ("feet", "ft"), ("m", "m"), ("kts", "kt"), ("km/h", "km/h"), ("volts", "V"),
        ("%", "percent"), ("sec", "s"), ("hrs", "h"), ("EGT", None), ("", None), ("m/s", None),
    ],
)  # fmt: skip
def test_units_are_read_in_every_way_they_are_written(text: str, unit: str | None) -> None:
    assert read_unit(text) == unit


@pytest.mark.parametrize(
    ("text", "is_unit"),
    [("degF", True), ("m/s", True), ("ms", True), ("hh:mm:ss", True), ("text", True), ("yyyy-mm-dd", True),
     ("EGT", False), ("1400", False), ("12:00:00", False), ("cruise", False)],
)  # fmt: skip
def test_cells_of_a_units_row_are_known(text: str, is_unit: bool) -> None:  # noqa: FBT001  the table reads so
    assert is_unit_cell(text) is is_unit


def test_a_name_of_any_length_is_read_quickly_or_not_at_all() -> None:
    assert read_label("EGT " * 100_000).quantity is None
    assert read_label("a b c " * 20).quantity is None


def test_signs_that_count_and_are_no_digits_of_a_number_are_letters_of_a_strange_word() -> None:
    # Unicode standard annex 44, Numeric_Type "Digit": they stand for a digit, and form no number.
    counting = [
        sign for sign in map(chr, range(sys.maxunicode + 1)) if sign.isdigit() and not sign.isdecimal()
    ]
    read = {sign: read_label(f"EGT{sign}") for sign in counting}
    assert read["²"] == read_label("EGT2")  # what is the same sign written otherwise is read so
    assert read["\u136d"].quantity is None  # the Ethiopic five
    assert {label.quantity for label in read.values()} == {"egt", None}
