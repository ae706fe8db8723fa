"""Constants of nature. Written out: the library that carries them takes a tenth of a second to import."""

from math import pi

BOLTZMANN, PLANCK, LIGHT = 1.380649e-23, 6.62607015e-34, 299792458.0
"""J/K, J s, m/s: exact, the definitions of the SI since 2019."""

STEFAN_BOLTZMANN = 2 * pi**5 * BOLTZMANN**4 / (15 * PLANCK**3 * LIGHT**2)
"""W/(m2 K4)."""
