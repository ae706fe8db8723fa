"""Words that stand in every report: cautions, how the numbers were obtained, and where the method is published."""

CAUTIONS = (
    "Electric heat tracing can burn, start a fire, ignite a hazardous atmosphere and give an electric shock.",
    "Local codes, the standard in force, the makers' instructions and licensed practice decide. This is evidence "
    "for an engineer, not a certificate.",
)

METHOD = (
    "Finite volumes on Voronoi cells whose faces lie on the interfaces of the section and stand upright on the "
    "line between their two sites, so that the flux between two cells is consistent and heat is conserved cell by "
    "cell (Eymard, Gallouet and Herbin 2000, admissible meshes).",
    "Thin sheets (weather barrier, foil) are nodes on the faces, joined along the sheet. Contacts are resistances on "
    "faces, foil's too (foil.contact_conductance: on the sheath, on a strip of pipe beyond its ends, and on air or "
    "insulation beneath it; a compound wets it). The tracer's heat is uniform over its body; a self-regulating output "
    "follows the mean temperature of the "
    "pipe wall beneath the tracer.",
    "Outside film: wind by Churchill and Bernstein (1977), still air by Churchill and Chu (1975), blended as "
    "Nu^4 = Nu_forced^4 + Nu_free^4, plus grey radiation, all on the local surface temperature; or the one coefficient "
    "the case gives.",
    "The heat balance is iterated until the imbalance over all nodes is below 1e-9 of the heat that flows; a field "
    "that does not get there is reported as not converged and has no numbers.",
    "Every number has a band from three meshes refined by sqrt(2): the grid convergence index (Celik et al. 2008; "
    "ASME V&V 20-2009; Roache 1994), with a larger safety factor where the meshes show no clear order. "
    "The band covers the numerics. It does not cover the inputs: conductivities, contacts, films and the output table "
    "are as uncertain as their sources.",
    "A limit passes only where the value clears it by the band, fails only where it misses it by the band, and is too "
    "close to call in between.",
    "The simplified method is the concentric-cylinder relation of IEC/IEEE 60079-30-2 and IEEE 515 (formulas from "
    "memory) with the films of ISO 12241, at one pipe temperature. The field's loss at that temperature is solved "
    "there, with the pipe's mean temperature held and the tracers off.",
    "Design beside field: loss, output and margin are all at the pipe temperature named; the margin is output over "
    "loss, less one. A number of the design that a condition gives stands beside that condition. Of the others, the "
    "sheath stands beside the condition with the hottest sheath by the simplified method, the rest beside the coldest "
    "condition.",
)

REFERENCES = (
    "Woods, L. C. (1954). A note on the numerical solution of fourth order differential equations. Aeronautical "
    "Quarterly 5, 176-184.",
    "Evans, L. B., Stefany, N. E. (1966). An experimental study of transient heat transfer to liquids in cylindrical "
    "enclosures. Chem. Eng. Progress Symposium Series 62 (64), 209-215.",
    "Eymard, R., Gallouet, T., Herbin, R. (2000). Finite volume methods. Handbook of Numerical Analysis 7, 713-1018.",
    "Churchill, S. W., Bernstein, M. (1977). A correlating equation for forced convection from gases and liquids to a "
    "circular cylinder in crossflow. J. Heat Transfer 99, 300-306.",
    "Churchill, S. W., Chu, H. H. S. (1975). Correlating equations for laminar and turbulent free convection from a "
    "horizontal cylinder. Int. J. Heat Mass Transfer 18, 1049-1053.",
    "Celik, I. B., et al. (2008). Procedure for estimation and reporting of uncertainty due to discretization in CFD "
    "applications. J. Fluids Engineering 130, 078001.",
    "ASME V&V 20-2009. Standard for verification and validation in computational fluid dynamics and heat transfer.",
    "Roache, P. J. (1994). Perspective: a method for uniform reporting of grid refinement studies. J. Fluids "
    "Engineering 116, 405-413.",
    "ISO 12241. Thermal insulation for building equipment and industrial installations: calculation rules.",
    "IEC/IEEE 60079-30-2; IEEE 515. Electrical resistance trace heating: design, installation and maintenance.",
)

LEFT_OUT = (
    "A straight line: flanges, valves and ends are left out, but for what the case writes as supports.",
    "Steady state: no warming up, no cooling down, no thermostat's cycle.",
    "Contents that stand still only conduct (the cautious bound). Buoyant contents move in laminar, plane natural "
    "convection (Boussinesq), steady or, where asked for, followed in time; flow along the pipe, evaporation and "
    "eddies finer than the cells are left out. Where no steady flow lasts the band takes in what that may be worth.",
    "Air in voids conducts and radiates; it does not circulate.",
    "Sun, sky and rain count where a condition gives them. The sun's diffuse part and the sky are even over the half "
    "of the view above; shade, neighbouring hot or cold surfaces and the sun on a support's exposed leg are left out.",
)
