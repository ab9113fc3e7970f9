"""Compute the exhaust-temperature table of the engine room from equilibrium thermodynamics.

Ideal fuel-air cycle: iso-octane vapour and air, equilibrium products, NASA seven-term polynomials as shipped with
the reference library Cantera. Compression ratio 8.5, start of compression 80 kPa and 350 K, exhaust to 1 atm.
Run it to make the module anew::

    python benchmarks/exhaust_table.py > src/leanwright/engine/exhaust_table.py

The tests of the engine room run :func:`cycle` for a handful of points and compare them with the table.
"""

from typing import NamedTuple

import cantera as ct
import numpy as np

FUEL = "C8H18,isooctane"
AIR = {"O2": 0.20946, "N2": 0.78084, "Ar": 0.00970}
PRODUCTS = ("CO2", "H2O", "CO", "H2", "O2", "N2", "OH", "H", "O", "NO", "Ar", FUEL)
LOSSES = (0.0, 0.125, 0.25)
NEAR_PEAK = (0.985, 0.995, 0.9975, 1.0025, 1.005, 1.0075, 1.015, 1.025)
FROZEN_BELOW_K = 1700.0


class CyclePoint(NamedTuple):
    """Mass-average exhaust temperature [K] and work [J per kg of air]."""

    exhaust_temperature_k: float
    work_per_air: float


def mixture_of_gases() -> ct.Solution:
    """Ideal gas that holds the fuel, air and the products of burning."""
    species = {s.name: s for s in ct.Species.list_from_file("nasa_gas.yaml")}
    return ct.Solution(thermo="ideal-gas", species=[species[name] for name in PRODUCTS])


def lower_heating_value(gas: ct.Solution) -> float:
    """Heat of burning one kilogram of gaseous iso-octane at 298.15 K, water as vapour [J/kg]."""
    gas.TPX = 298.15, 101325.0, {FUEL: 1.0}
    fuel, weight = gas.enthalpy_mass, gas.molecular_weights[gas.species_index(FUEL)]
    gas.TPX = 298.15, 101325.0, {"CO2": 1.0}
    carbon_dioxide = gas.enthalpy_mole
    gas.TPX = 298.15, 101325.0, {"H2O": 1.0}
    return float(fuel - (8.0 * carbon_dioxide + 9.0 * gas.enthalpy_mole) / weight)


def cycle(phi: float, loss: float, compression_ratio: float = 8.5, start_pa: float = 80e3) -> CyclePoint:
    """Otto cycle at equivalence ratio ``phi``, ``loss`` of the heat that can be released removed at top centre.

    Compression with frozen charge, burning to equilibrium at constant volume, expansion with shifting
    equilibrium that freezes below 1700 K, free exhaust to 1 atm.
    """
    gas = mixture_of_gases()
    heating_value = lower_heating_value(gas)
    gas.set_equivalence_ratio(phi, FUEL, AIR)
    gas.TP = 350.0, start_pa
    fuel = gas.Y[gas.species_index(FUEL)]
    volume, energy, entropy = gas.volume_mass, gas.int_energy_mass, gas.entropy_mass
    gas.SV = entropy, volume / compression_ratio
    removed = loss * min(1.0, 1.0 / phi) * fuel * heating_value
    gas.UV = gas.int_energy_mass, gas.volume_mass
    compressed = gas.int_energy_mass
    gas.equilibrate("UV")
    gas.UV = compressed - removed, gas.volume_mass
    gas.equilibrate("UV")
    entropy = gas.entropy_mass
    frozen = False
    for v in np.geomspace(volume / compression_ratio, volume, 61)[1:]:
        gas.SV = entropy, v
        if not frozen:
            gas.equilibrate("SV")
            frozen = gas.T < FROZEN_BELOW_K
    expanded = gas.int_energy_mass
    work = energy - expanded - removed
    gas.HP = expanded + 101325.0 * volume, 101325.0
    return CyclePoint(float(gas.T), float(work / (1.0 - fuel)))


def grid() -> list[float]:
    """Equivalence ratios of the table, closer together at the top."""
    even = np.round(np.arange(0.50, 1.6001, 0.01), 4)
    return sorted({*even.tolist(), *NEAR_PEAK})


def rows(numbers: list[float], digits: int, indent: str = "    ") -> str:
    """Numbers as the lines of a tuple, ten a line."""
    words = [f"{n:.{digits}f}".rstrip("0") + ("0" if n == round(n) else "") for n in numbers]
    return "\n".join(f"{indent}{', '.join(words[i : i + 10])}," for i in range(0, len(words), 10))


def main() -> None:
    """Print the module."""
    phi = grid()
    print(
        '"""Exhaust temperature and work of the fuel-air cycle, computed by ``benchmarks/exhaust_table.py``.'
    )
    print()
    print(f"Reference library: Cantera {ct.__version__}. Do not edit by hand.")
    print('"""')
    print()
    print("from typing import Final")
    print()
    print("# fmt: off")
    print("# Ten numbers a line: the formatter would give each a line of its own.")
    print("PHI: Final = (")
    print(rows(phi, 4))
    print(")")
    print('"""Equivalence ratio of each column."""')
    print(f"LOSSES: Final = {LOSSES}")
    print('"""Share of the released heat removed at top centre, one a row."""')
    points = [[cycle(p, loss) for p in phi] for loss in LOSSES]
    for name, which, scale, digits, meaning in (
        ("EXHAUST_TEMPERATURE_K", 0, 1.0, 2, "Mass-average exhaust temperature [K]"),
        ("WORK_PER_AIR", 1, 1e-3, 2, "Work of the closed cycle [kJ per kg of air]"),
    ):
        print(f"{name}: Final = (")
        for row in points:
            print("    (")
            print(rows([p[which] * scale for p in row], digits, "        "))
            print("    ),")
        print(")")
        print(f'"""{meaning}, a row for each loss."""')


if __name__ == "__main__":
    main()
