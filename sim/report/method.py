"""Cautions that stand on every page and screen; how numbers were obtained is in `method.html.jinja`."""

CAUTIONS = (
    "Electric heat tracing can burn, start a fire, ignite a hazardous atmosphere and give an electric shock.",
    "Local codes, the standard in force, the makers' instructions and licensed practice decide. This is evidence "
    "for an engineer, not a certificate.",
)
