"""Terminal velocity of kernels and straw in air, from drag or from measurements.

Inside: drag coefficients of spheres and of other bodies, the force balance that gives the terminal
velocity, the sphere that has the mass of a kernel, measured velocities moved to another moisture
and mass, straw pieces. Outside: figures of crops (the knowledge table), the air that a fan gives.

Air is at 20 degrees Celsius and sea level unless other figures are passed.
"""

import math
from collections.abc import Callable
from typing import Final

from scipy.optimize import brentq

from service.domain.moisture import mass_at_moisture
from service.domain.ranges import INF, above, within
from service.errors import OutOfRange

GRAVITY_M_S2: Final = 9.80665
AIR_DENSITY_KG_M3: Final = 1.204
AIR_VISCOSITY_PA_S: Final = 1.813e-5
REYNOLDS_MAX: Final = 3e5  # above it the boundary layer of a sphere turns turbulent and drag collapses
REYNOLDS_MIN: Final = 1e-4
SHAPED_REYNOLDS_MAX: Final = 2.5e4
SPHERICITY_MIN: Final = 0.5  # the least isometric bodies behind the fit are near 0.67, disks lie below
# drag coefficient of straw lying across the stream, related to the side area length x diameter;
# derived from the measured node and internode pieces of Womac et al., not a published figure
STRAW_DRAG_COEFFICIENT: Final = 0.53


def sphere_drag_coefficient(reynolds: float) -> float:
    """Drag coefficient of a smooth sphere.

    Parameters
    ----------
    reynolds : float
        Reynolds number on the diameter, 0.0001 to 300 000. [1]

    Returns
    -------
    float
        Drag coefficient on the cross-section. [1]

    Raises
    ------
    OutOfRange
        If the input lies outside its range.

    Notes
    -----
    Cd = 24/Re (1 + 0.15 Re^0.687) + 0.42 / (1 + 42500 Re^-1.16). Valid up to the drag crisis.

    References
    ----------
    Clift, R.; Gauvin, W. H. Motion of entrained particles in gas streams, Can. J. Chem. Eng.
    49:439-448, 1971. Formula recalled.

    Examples
    --------
    >>> round(sphere_drag_coefficient(1000), 3)
    0.466
    """
    within("reynolds", reynolds, REYNOLDS_MIN, REYNOLDS_MAX, "1")
    viscous = 24 / reynolds * (1 + 0.15 * reynolds**0.687)
    return float(viscous + 0.42 / (1 + 42500 * reynolds**-1.16))


def shaped_drag_coefficient(reynolds: float, sphericity: float) -> float:
    """Drag coefficient of a body that is no sphere, on the sphere of equal volume.

    Parameters
    ----------
    reynolds : float
        Reynolds number on the diameter of the sphere of equal volume, 0.0001 to 25 000. [1]
    sphericity : float
        Surface of that sphere over the surface of the body, 0.5 to 1. [1]

    Returns
    -------
    float
        Drag coefficient on the cross-section of the sphere of equal volume. [1]

    Raises
    ------
    OutOfRange
        If an input lies outside its range.

    Notes
    -----
    Do not pass the geometric sphericity of grain papers (mean diameter over length, 0.63 for
    wheat): it is another quantity and gives 4.4 m/s for a wheat kernel. About 0.83 for wheat and
    0.81 for barley fit measured terminal velocities.

    References
    ----------
    Haider, A.; Levenspiel, O. Drag coefficient and terminal velocity of spherical and nonspherical
    particles, Powder Technology 58:63-70, 1989. Read in a public transcription.

    Examples
    --------
    >>> round(shaped_drag_coefficient(1000, 1.0), 3)
    0.455
    """
    within("reynolds", reynolds, REYNOLDS_MIN, SHAPED_REYNOLDS_MAX, "1")
    within("sphericity", sphericity, SPHERICITY_MIN, 1, "1")
    viscous = 24 / reynolds * (1 + 8.1716 * math.exp(-4.0655 * sphericity) * reynolds ** (0.0964 + 0.5565 * sphericity))
    form = 73.69 * reynolds * math.exp(-5.0748 * sphericity) / (reynolds + 5.378 * math.exp(6.2122 * sphericity))
    return float(viscous + form)


def sphere_terminal_velocity_m_s(
    diameter_mm: float,
    density_kg_m3: float,
    air_density_kg_m3: float = AIR_DENSITY_KG_M3,
    air_viscosity_pa_s: float = AIR_VISCOSITY_PA_S,
) -> float:
    """Terminal velocity of a smooth sphere.

    Parameters
    ----------
    diameter_mm : float
        Diameter, above 0. [mm]
    density_kg_m3 : float
        Density of the body, above that of the air. [kg/m3]
    air_density_kg_m3 : float
        Density of the air or other fluid, above 0. [kg/m3]
    air_viscosity_pa_s : float
        Dynamic viscosity of the air or other fluid, above 0. [Pa.s]

    Returns
    -------
    float
        Speed at which drag and buoyancy carry the weight. [m/s]

    Raises
    ------
    OutOfRange
        If an input lies outside its range, or the Reynolds number at the end outside that of the
        drag formula.

    Notes
    -----
    Cd Re^2 = 4 ra (rp - ra) g d^3 / (3 mu^2) is solved for Re by Brent's method; the left side
    rises with Re, so there is one root.

    References
    ----------
    Balance of weight, buoyancy and drag; drag after Clift and Gauvin, 1971.

    Examples
    --------
    >>> round(sphere_terminal_velocity_m_s(6.85, 1200), 1)
    15.0
    """
    return _terminal_velocity(
        sphere_drag_coefficient,
        REYNOLDS_MAX,
        diameter_mm=diameter_mm,
        density_kg_m3=density_kg_m3,
        air_density_kg_m3=air_density_kg_m3,
        air_viscosity_pa_s=air_viscosity_pa_s,
    )


def shaped_terminal_velocity_m_s(
    diameter_mm: float,
    density_kg_m3: float,
    sphericity: float,
    air_density_kg_m3: float = AIR_DENSITY_KG_M3,
    air_viscosity_pa_s: float = AIR_VISCOSITY_PA_S,
) -> float:
    """Terminal velocity of a body that is no sphere.

    Parameters
    ----------
    diameter_mm : float
        Diameter of the sphere of equal volume, above 0. [mm]
    density_kg_m3 : float
        Density of the body, above that of the air. [kg/m3]
    sphericity : float
        Surface of that sphere over the surface of the body, 0.5 to 1. [1]
    air_density_kg_m3 : float
        Density of the air or other fluid, above 0. [kg/m3]
    air_viscosity_pa_s : float
        Dynamic viscosity of the air or other fluid, above 0. [Pa.s]

    Returns
    -------
    float
        Speed at which drag and buoyancy carry the weight. [m/s]

    Raises
    ------
    OutOfRange
        If an input lies outside its range, or the Reynolds number at the end outside that of the
        drag formula.

    Notes
    -----
    Solved as for the sphere. The sphericity is that of the drag formula, see
    `shaped_drag_coefficient`.

    References
    ----------
    Balance of weight, buoyancy and drag; drag after Haider and Levenspiel, 1989.

    Examples
    --------
    >>> round(shaped_terminal_velocity_m_s(3.88, 1250, 0.83), 1)
    7.3
    """
    within("sphericity", sphericity, SPHERICITY_MIN, 1, "1")
    return _terminal_velocity(
        lambda reynolds: shaped_drag_coefficient(reynolds, sphericity),
        SHAPED_REYNOLDS_MAX,
        diameter_mm=diameter_mm,
        density_kg_m3=density_kg_m3,
        air_density_kg_m3=air_density_kg_m3,
        air_viscosity_pa_s=air_viscosity_pa_s,
    )


def equivalent_diameter_mm(thousand_kernel_mass_g: float, density_kg_m3: float) -> float:
    """Diameter of the sphere that has the mass and density of a kernel.

    Parameters
    ----------
    thousand_kernel_mass_g : float
        Mass of a thousand kernels, above 0. [g]
    density_kg_m3 : float
        True density of the kernel, above 0; not the bulk density. [kg/m3]

    Returns
    -------
    float
        Diameter. [mm]

    Raises
    ------
    OutOfRange
        If an input lies outside its range.

    Notes
    -----
    d = (6 m / (pi rho))^(1/3). A gram per thousand kernels is a milligram per kernel.

    References
    ----------
    Volume of a sphere.

    Examples
    --------
    >>> round(equivalent_diameter_mm(200, 1200), 2)
    6.83
    """
    above("thousand_kernel_mass_g", thousand_kernel_mass_g, 0, "g")
    above("density_kg_m3", density_kg_m3, 0, "kg/m3")
    volume_mm3 = thousand_kernel_mass_g / density_kg_m3 * 1000  # mg per kg/m3 is 1000 mm3
    return math.cbrt(6 * volume_mm3 / math.pi)


def kernel_mass_at_moisture_g(thousand_kernel_mass_g: float, at_moisture_pct: float, moisture_pct: float) -> float:
    """Thousand-kernel mass at another moisture with the same dry matter.

    Parameters
    ----------
    thousand_kernel_mass_g : float
        Mass of a thousand kernels, 0 or more. [g]
    at_moisture_pct : float
        Moisture at which that mass holds, 0 to 95. [%]
    moisture_pct : float
        Moisture of the answer, 0 to 95. [%]

    Returns
    -------
    float
        Mass of a thousand kernels. [g]

    Raises
    ------
    OutOfRange
        If an input lies outside its range.

    Notes
    -----
    m2 = m1 (100 - M1) / (100 - M2).

    References
    ----------
    Conservation of dry matter.

    Examples
    --------
    >>> kernel_mass_at_moisture_g(40.0, 14.0, 20.0)
    43.0
    """
    within("thousand_kernel_mass_g", thousand_kernel_mass_g, 0, INF, "g")
    return mass_at_moisture(thousand_kernel_mass_g, at_moisture_pct, moisture_pct)


def measured_terminal_velocity_m_s(
    velocity_m_s: float, slope_m_s_per_point: float, at_moisture_pct: float, moisture_pct: float, mass_ratio: float
) -> float:
    """Measured terminal velocity, moved to another moisture and kernel mass.

    Parameters
    ----------
    velocity_m_s : float
        Measured terminal velocity, above 0. [m/s]
    slope_m_s_per_point : float
        Change per point of moisture, from the same measurements. [m/s]
    at_moisture_pct : float
        Moisture at which `velocity_m_s` holds, 0 to 95. [%]
    moisture_pct : float
        Moisture of the answer, 0 to 95. [%]
    mass_ratio : float
        Kernel mass over the mass behind the measurement, both at one moisture, above 0. [1]

    Returns
    -------
    float
        Terminal velocity. [m/s]

    Raises
    ------
    OutOfRange
        If an input lies outside its range, or the line falls to zero before `moisture_pct`.

    Notes
    -----
    (v + slope (M - M0)) ratio^(1/6): at one shape, density and drag coefficient v goes with d^(1/2)
    and d with m^(1/3). Measured wheat kernels of 0.02 and 0.05 g rose less, 7.04 to 7.74 m/s, which
    is a power of 0.10; the sixth root is the safe side for light kernels only. The moisture line
    already holds the mass of the water, so `mass_ratio` must not.

    References
    ----------
    Line: the measurement passed in. Mass: balance of weight and drag at a constant coefficient.

    Examples
    --------
    Printed as 8.63 m/s for wheat at 20 % by Khoshtaghaza and Mehdizadeh, 2006:

    >>> round(measured_terminal_velocity_m_s(6.81, 0.140, 7, 20, 1.0), 2)
    8.63
    """
    above("velocity_m_s", velocity_m_s, 0, "m/s")
    within("slope_m_s_per_point", slope_m_s_per_point, -INF, INF, "m/s")
    within("at_moisture_pct", at_moisture_pct, 0, 95, "%")
    within("moisture_pct", moisture_pct, 0, 95, "%")
    above("mass_ratio", mass_ratio, 0, "1")
    at_moisture = velocity_m_s + slope_m_s_per_point * (moisture_pct - at_moisture_pct)
    if at_moisture <= 0:
        raise OutOfRange("moisture_pct", moisture_pct, unit="%", reason="beyond_the_measured_line")
    return float(at_moisture * mass_ratio ** (1 / 6))


def straw_terminal_velocity_m_s(mass_mg: float, length_mm: float, diameter_mm: float) -> float:
    """Terminal velocity of a piece of straw that falls across the stream.

    Parameters
    ----------
    mass_mg : float
        Mass of the piece, above 0. [mg]
    length_mm : float
        Length, above 0. [mm]
    diameter_mm : float
        Outer diameter, above 0. [mm]

    Returns
    -------
    float
        Terminal velocity. [m/s]

    Raises
    ------
    OutOfRange
        If an input lies outside its range.

    Notes
    -----
    v = sqrt(2 m g / (ra 0.53 L D)). The coefficient 0.53 is derived here from the node and internode
    pieces of the paper; it is not printed there. Buoyancy is left out, straw weighs over a hundred
    times as much as air. Pieces near 12 mm; long straw tumbles and floats at less.

    References
    ----------
    Measured pieces: Womac, A. R. et al., wheat stem nodes and internodes, Journal of the ASABE,
    doi 10.13031/ja.15580. Coefficient derived.

    Examples
    --------
    Internode pieces of middle mass, printed mean 3.35 m/s:

    >>> round(straw_terminal_velocity_m_s(17, 12.5, 3.7), 2)
    3.36
    """
    above("mass_mg", mass_mg, 0, "mg")
    above("length_mm", length_mm, 0, "mm")
    above("diameter_mm", diameter_mm, 0, "mm")
    side_area_m2 = length_mm * diameter_mm * 1e-6
    weight_n = mass_mg * 1e-6 * GRAVITY_M_S2
    return math.sqrt(2 * weight_n / (AIR_DENSITY_KG_M3 * STRAW_DRAG_COEFFICIENT * side_area_m2))


def _terminal_velocity(
    drag: Callable[[float], float],
    reynolds_max: float,
    *,
    diameter_mm: float,
    density_kg_m3: float,
    air_density_kg_m3: float,
    air_viscosity_pa_s: float,
) -> float:
    above("diameter_mm", diameter_mm, 0, "mm")
    above("air_density_kg_m3", air_density_kg_m3, 0, "kg/m3")
    above("air_viscosity_pa_s", air_viscosity_pa_s, 0, "Pa.s")
    above("density_kg_m3", density_kg_m3, air_density_kg_m3, "kg/m3")
    diameter_m = diameter_mm / 1000
    weight = 4 * air_density_kg_m3 * (density_kg_m3 - air_density_kg_m3) * GRAVITY_M_S2 * diameter_m**3
    load = weight / (3 * air_viscosity_pa_s**2)

    def imbalance(reynolds: float) -> float:
        return drag(reynolds) * reynolds**2 - load

    if imbalance(REYNOLDS_MIN) > 0 or imbalance(reynolds_max) < 0:
        raise OutOfRange("diameter_mm", diameter_mm, unit="mm", reason="outside_the_drag_formula")
    reynolds = brentq(imbalance, REYNOLDS_MIN, reynolds_max, xtol=1e-12, rtol=1e-12)
    return float(reynolds) * air_viscosity_pa_s / (air_density_kg_m3 * diameter_m)
