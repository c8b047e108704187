"""The cones 022 to 15 as numbers: the Arrhenius model of each, and where it stands on a climb of 60 degC/h.

Model: heat work w = integral of k dt, k = k_ref exp(-(E/R) (1/T - 1/T_ref)), T in kelvin; the cone is down at w = 1.
E is half way, in degrees, between a pooled value of the cone's series and its own two end points. Those end points, at
20 and 150 degC/h, are FROM MEMORY, not checked against a printed copy: C. O. Fairchild and M. F. Peters, J. Am. Ceram.
Soc. 9 (1926) 701, as reprinted in the CRC Handbook of Chemistry and Physics; the rest is computed from them. E is an
apparent value that only describes the table. Rates below 20 or above 150 degC/h are extrapolation.
"""

from typing import NamedTuple

import numpy as np

from monitor.model import FloatArray


class Cone(NamedTuple):
    """One cone: activation energy in J/mol, reference temperature in degC, rate there per second.

    `end_60_c` is where it is down on a steady climb of 60 degC/h by this model, degC.
    """

    name: str
    energy_j_per_mol: float
    reference_c: float
    reference_per_s: float
    end_60_c: float


# fmt: off
CONES: tuple[Cone, ...] = (
    Cone("022", 540044.0, 595.88, 0.00147077, 595.9),
    Cone("021", 545552.0, 605.90, 0.00145327, 605.9),
    Cone("020", 508492.0, 638.51, 0.00126232, 638.5),
    Cone("019", 467417.0, 646.10, 0.00114482, 646.1),
    Cone("018", 368596.0, 696.43, 0.000819712, 696.4),
    Cone("017", 392008.0, 746.49, 0.000787834, 746.5),
    Cone("016", 357782.0, 766.64, 0.000694809, 766.6),
    Cone("015", 499589.0, 788.84, 0.000918657, 788.8),
    Cone("014", 510962.0, 813.88, 0.000897172, 813.9),
    Cone("013", 524247.0, 843.92, 0.000871711, 843.9),
    Cone("012", 530742.0, 858.94, 0.000859269, 858.9),
    Cone("011", 581838.0, 891.41, 0.000888292, 891.4),
    Cone("010", 2450711.0, 892.90, 0.00364236, 892.9),
    Cone("09", 3370859.0, 930.31, 0.004689, 930.3),
    Cone("08", 2511283.0, 947.93, 0.00340582, 947.9),
    Cone("07", 1707170.0, 983.15, 0.00219585, 983.1),
    Cone("06", 2079764.0, 1010.56, 0.00255537, 1010.6),
    Cone("05", 2110411.0, 1035.57, 0.00249371, 1035.6),
    Cone("04", 2134311.0, 1055.59, 0.00244993, 1055.6),
    Cone("03", 1153149.0, 1098.58, 0.0012523, 1098.6),
    Cone("02", 1288717.0, 1111.00, 0.00137231, 1111.0),
    Cone("01", 1186284.0, 1128.60, 0.00123378, 1128.6),
    Cone("1", 1113771.0, 1143.68, 0.00113512, 1143.7),
    Cone("2", 1226184.0, 1151.10, 0.0012348, 1151.1),
    Cone("3", 1360198.0, 1158.52, 0.00135383, 1158.5),
    Cone("4", 1379419.0, 1178.53, 0.00133493, 1178.5),
    Cone("5", 1393666.0, 1193.54, 0.00132118, 1193.5),
    Cone("6", 1085906.0, 1211.32, 0.00101005, 1211.3),
    Cone("7", 1103658.0, 1231.33, 0.000999098, 1231.3),
    Cone("8", 1205808.0, 1243.76, 0.00107247, 1243.8),
    Cone("9", 1228144.0, 1268.77, 0.00105657, 1268.8),
    Cone("10", 1070172.0, 1283.96, 0.000906031, 1284.0),
    Cone("11", 1168964.0, 1306.39, 0.000960071, 1306.4),
    Cone("12", 1511068.0, 1323.64, 0.00120897, 1323.6),
    Cone("13", 2772303.0, 1350.68, 0.00212917, 1350.7),
    Cone("14", 2126102.0, 1395.91, 0.00154971, 1395.9),
    Cone("15", 1594130.0, 1423.72, 0.00112961, 1423.7),
)
# fmt: on

NAMES: tuple[str, ...] = tuple(cone.name for cone in CONES)
"""Names in rising order of heat work; the last axis of every array of this room."""

ZERO_C_IN_K = 273.15

GAS_CONSTANT = 8.314462618
"""J/(mol K), exact to the digits shown since the SI of 2019."""

ENERGY_K: FloatArray = np.array([cone.energy_j_per_mol for cone in CONES]) / GAS_CONSTANT
"""E/R of each cone (C,), kelvin."""

REFERENCE_K: FloatArray = np.array([cone.reference_c for cone in CONES]) + ZERO_C_IN_K
REFERENCE_PER_S: FloatArray = np.array([cone.reference_per_s for cone in CONES])
END_60_C: FloatArray = np.array([cone.end_60_c for cone in CONES])


def cone_index(name: str) -> int:
    """Return the place of cone `name` ("022" to "15") on the last axis.

    Raises:
        ValueError: where there is no such cone.
    """
    if name not in NAMES:
        raise ValueError(f"no cone {name!r}; there are {NAMES[0]} to {NAMES[-1]}")
    return NAMES.index(name)
