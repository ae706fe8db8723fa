"""The films of ISO 12241 that the one-line method uses, every branch worked by hand.

ISO 12241:2008, clause 4.1.5 (formulas from memory). Outdoors: 8.1e-3/De + 3.14 sqrt(v/De) up to v De = 8.55e-3 m2/s,
8.9 v^0.9/De^0.1 above. Still air, horizontal: 1.25 (dT/De)^1/4 up to De3 dT = 10 m3 K, 1.21 dT^1/3 above; vertical 1.32
and 1.74. Radiation: eps sigma (Ts4 - Ta4)/(Ts - Ta). The larger of wind and still air, and the radiation, act.
"""

from sim.heat import iso_film
from validation.published.rows import Row

SOURCE = "@iso12241, clause 4.1.5 (formulas from memory), worked by hand"
HOT, COLD = 330.0, 290.0


def rows() -> list[Row]:
    """Each branch of the outdoor and still-air films, then the whole."""
    glow = 0.5 * 5.670374419e-8 * (330.0**4 - 290.0**4) / 40.0
    worked = {
        "wind 0.05 m/s, De 0.1 m": (0.081 + 3.14 * 0.5**0.5, iso_film.outdoor(0.05, 0.1)),  # v De 5e-3
        "wind 4 m/s, De 0.1 m": (39.0161, iso_film.outdoor(4.0, 0.1)),  # 8.9 x 3.48220 / 0.794328
        "wind 0.5 m/s, De 0.1 m": (6.00429, iso_film.outdoor(0.5, 0.1)),  # v De 0.05: turbulent
        "still air, 60 K, De 0.5 m": (4.13724, iso_film.still_air(60.0, 0.5)),  # De3 dT 7.5: laminar
        "still air, 60 K, De 0.6 m": (4.73704, iso_film.still_air(60.0, 0.6)),  # De3 dT 12.96: turbulent
        "still air, 40 K, De 0.1 m": (5.59017, iso_film.still_air(40.0, 0.1)),  # 1.25 x 400^1/4
        "still air, 40 K, De 0.8 m": (4.13814, iso_film.still_air(40.0, 0.8)),  # 1.21 x 40^1/3
        "still air, 40 K, De 0.1 m, vertical": (5.90322, iso_film.still_air(40.0, 0.1, vertical=True)),
        "still air, 40 K, De 0.8 m, vertical": (5.95072, iso_film.still_air(40.0, 0.8, vertical=True)),
        "radiation, emissivity 0.5": (glow, iso_film.radiation(HOT, ambient=COLD, emissivity=0.5)),
        "still air and radiation": (
            5.59017 + glow,
            iso_film.outside(HOT, ambient=COLD, wind=0.0, diameter=0.1, emissivity=0.5),
        ),
        "light wind, in which still air cools more": (
            5.59017,
            iso_film.outside(HOT, ambient=COLD, wind=0.05, diameter=0.1, emissivity=0.0),
        ),
    }
    why = "five digits worked"
    return [
        Row("films of ISO 12241", SOURCE, name, exact, computed, 2e-5 * exact, why, "W/m2/K")
        for name, (exact, computed) in worked.items()
    ]
