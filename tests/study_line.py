"""A small invented line and the head of a study of it on coarse meshes."""

LINE = """
title = "small line (invented)"
[pipe]
outer_diameter = "60 mm"
wall = "3 mm"
material = "carbon steel"
[contents]
state = "still"
[[tracer]]
name = "T1"
clock = 6
shape = "flat"
width = "12 mm"
height = "5 mm"
output = "20 W/m"
[insulation]
[[insulation.layer]]
conductivity = "0.04 W/m/K"
thickness = "30 mm"
[outside]
coefficient = "20 W/m2/K"
[[condition]]
name = "cold"
ambient = "-20 degC"
[[condition]]
name = "hot"
ambient = "30 degC"
output = "high"
[limits]
contents_min = "5 degC"
sheath_max = "120 degC"
"""
HEAD = 'title = "small study (invented)"\ncase = "line.toml"\nfineness = 0.75\nreferences = 1\n'
