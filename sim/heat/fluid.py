"""A fluid that moves by its own weight: density over temperature, properties of reference, Rayleigh and Prandtl."""

from dataclasses import dataclass

import numpy as np

from sim.case import Fluid
from sim.heat.convection import GRAVITY, FlowLaw
from sim.section.shapes import Array

SLOPE = 1e-3  # K, step of the density's numerical derivative


@dataclass(frozen=True)
class Buoyancy:
    """Weight and transport of a fluid in a bore of a given diameter (m).

    The density in the weight is the fluid's own rho(T), beyond the ends of its table with the expansion there; where it
    is one value, rho (1 - expansion (T - T0)) with T0 the mean temperature. The viscosity is the fluid's own at every
    temperature where asked for, else that at T0; what carries heat has specific heat and density of T0.
    """

    fluid: Fluid
    diameter: float

    def density(self, temperature: Array, middle: float) -> Array:
        """kg/m3 at temperatures (n,) K; middle: T0, K."""
        curve = self.fluid.density
        rho = curve(temperature)
        if curve.is_constant:
            return rho * (1 - self.fluid.expansion(middle) * (temperature - middle))
        inside = np.clip(temperature, curve.low, curve.high)
        return rho * (1 - self.fluid.expansion(inside) * (temperature - inside))

    def slope(self, temperature: Array, middle: float) -> Array:
        """d rho / d T, kg/m3/K."""
        up, down = self.density(temperature + SLOPE, middle), self.density(temperature - SLOPE, middle)
        return (up - down) / (2 * SLOPE)

    def thickness(self, temperature: Array, middle: float) -> Array:
        """Viscosity over that at the mean temperature."""
        return self.fluid.viscosity(temperature) / float(self.fluid.viscosity(middle))

    def thickness_slope(self, temperature: Array, middle: float) -> Array:
        """d thickness / d T, 1/K."""
        up, down = (self.thickness(temperature + s, middle) for s in (SLOPE, -SLOPE))
        return (up - down) / (2 * SLOPE)

    def diffusivity(self, middle: float) -> float:
        """Thermal diffusivity a0, m2/s."""
        f = self.fluid
        return float(f.conductivity(middle) / (f.density(middle) * f.specific_heat(middle)))

    def law(self, middle: float) -> FlowLaw:
        """The motion's law with properties at the mean temperature, K."""
        f = self.fluid
        viscosity, conductivity = float(f.viscosity(middle)), float(f.conductivity(middle))
        prandtl = viscosity * float(f.specific_heat(middle)) / conductivity
        lift = GRAVITY * self.diameter**3 / (viscosity * self.diffusivity(middle))
        return FlowLaw(prandtl, lift, conductivity)

    def rayleigh(self, temperature: Array, middle: float) -> float:
        """g (rho_max - rho_min) D3 / (mu0 a0) over the temperatures between the least and the greatest given."""
        span = np.linspace(float(temperature.min()), float(temperature.max()), 201)
        return self.law(middle).lift * float(np.ptp(self.density(span, middle)))
