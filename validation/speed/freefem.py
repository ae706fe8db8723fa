"""A compiled peer: FreeFEM (Hecht 2012, J. Numer. Math. 20, 251-265) on one flat tracer without contact resistance.

Timed as the processor seconds of the whole process, the smallest of a few, less those of an empty script.
"""

import resource
import shutil
import subprocess
import tempfile
from collections.abc import Callable
from functools import lru_cache
from pathlib import Path
from time import perf_counter

import numpy as np

from sim.case import Case
from sim.section.layout import FlatBody, Layout
from validation.speed.curves import Point

PROGRAMS = ("FreeFem++-nw", "FreeFem++")
RUNS = 3

SCRIPT = """
real ri={ri}, ro={ro}, rc={rc}, rt={rt}, phi={phi}, half={half}, pull={pull};
func real graded(real t) {{ return t - pull*sin(2*pi*t)/(2*pi); }}
border bore(t=0,2*pi){{x=ri*cos(t);y=ri*sin(t);label=1;}}
border seat(t=0,1){{real a=phi-half+2*half*graded(t);x=ro*cos(a);y=ro*sin(a);label=2;}}
border pipe(t=0,1){{real a=phi+half+(2*pi-2*half)*graded(t);x=ro*cos(a);y=ro*sin(a);label=3;}}
border top(t=0,1){{real a=phi-half+2*half*graded(t);x=rt*cos(a);y=rt*sin(a);label=4;}}
border sidea(t=0,1){{real r=ro+(rt-ro)*t;x=r*cos(phi-half);y=r*sin(phi-half);label=5;}}
border sideb(t=0,1){{real r=ro+(rt-ro)*t;x=r*cos(phi+half);y=r*sin(phi+half);label=6;}}
border cover(t=0,2*pi){{x=rc*cos(t);y=rc*sin(t);label=9;}}
mesh Th=buildmesh(bore({nb})+seat({ns})+pipe({np})+top({ns})+sidea({nh})+sideb({nh})+cover({nc}));
fespace Ph(Th,P0);
fespace Vh(Th,P{degree});
int inTracer=Th((ro+0.5*(rt-ro))*cos(phi),(ro+0.5*(rt-ro))*sin(phi)).region;
int inWall=Th(0.5*(ri+ro)*cos(phi+pi),0.5*(ri+ro)*sin(phi+pi)).region;
int inBore=Th(0,0).region;
Ph body=(region==inTracer);
Ph k={kl}+({kt}-{kl})*body+({kw}-{kl})*(region==inWall)+({kc}-{kl})*(region==inBore);
real area=int2d(Th)(body);
Vh u,v;
solve heat(u,v,solver=sparsesolver)=int2d(Th)(k*(dx(u)*dx(v)+dy(u)*dy(v)))+int1d(Th,9)({h}*u*v)
  -int1d(Th,9)({h}*{ambient}*v)-int2d(Th)({watts}/area*body*v);
real hottest=0;
for(int i=0;i<Th.nt;i++) if(Th[i].region==inTracer)
  for(int j=0;j<Vh.ndofK;j++) hottest=max(hottest,u[](Vh(i,j)));
cout.precision(12);
cout << "ANSWER " << hottest << " " << Vh.ndof << endl;
"""


def present() -> bool:
    return program() is not None


def program() -> str | None:
    """The installed program, or None."""
    return next((path for name in PROGRAMS if (path := shutil.which(name))), None)


def _run(text: str) -> tuple[float, float, str]:
    """Least processor seconds and wall seconds of a few runs of a script, and its output. Raises RuntimeError."""
    best, best_wall, output = np.inf, np.inf, ""
    with tempfile.TemporaryDirectory() as folder:
        script = Path(folder) / "section.edp"
        script.write_text(text, encoding="utf-8")
        for _ in range(RUNS):
            before, begin = resource.getrusage(resource.RUSAGE_CHILDREN), perf_counter()
            command = [str(program()), "-nw", "-ne", "-v", "0", str(script)]
            done = subprocess.run(command, capture_output=True, text=True, timeout=120, check=False)
            wall = perf_counter() - begin
            after = resource.getrusage(resource.RUSAGE_CHILDREN)
            spent = after.ru_utime + after.ru_stime - before.ru_utime - before.ru_stime
            best, best_wall, output = min(best, spent), min(best_wall, wall), done.stdout
            if done.returncode:
                raise RuntimeError(done.stdout[-500:])
    return best, best_wall, output


@lru_cache(maxsize=1)
def startup() -> tuple[float, float]:
    """Processor and wall seconds of a script that does nothing."""
    return _run("int a=1;\n")[:2]


def freefem_point(
    case: Case, layout: Layout, degree: int, finer: float, error: Callable[[float], float]
) -> Point | None:
    """One solution, or None if FreeFEM could not mesh it."""
    body = layout.bodies[0]
    assert isinstance(body, FlatBody)
    condition, tracer = case.conditions[0], case.tracers[0]

    def k(law: object) -> float:
        return float(law(np.array([300.0]))[0])  # type: ignore[operator]

    wide = 2 * body.half_angle * layout.outer_radius
    count = {"nb": 24, "ns": 6 * wide / 0.012, "np": 48, "nh": 3, "nc": 24}
    text = SCRIPT.format(
        ri=layout.inner_radius,
        ro=layout.outer_radius,
        rc=layout.cover_radius,
        rt=body.outer,
        phi=np.pi / 2 - body.clock_angle,
        half=body.half_angle,
        pull=0.8,
        degree=degree,
        kl=k(case.insulation.layers[0].conductivity),
        kt=tracer.body_conductivity,
        kw=k(case.pipe.material.conductivity),
        kc=k(case.contents.fluid.conductivity),
        h=case.outside.coefficient,
        ambient=condition.ambient,
        watts=float(tracer.output.watts(300.0, condition.supply)),
        **{name: max(2, round(n * finer)) for name, n in count.items()},
    )
    try:
        seconds, wall, output = _run(text)
        sheath, unknowns = output.partition("ANSWER ")[2].split()[:2]
    except (RuntimeError, ValueError, subprocess.TimeoutExpired):
        return None
    return Point(
        "FreeFEM",
        f"P{degree}",
        finer,
        float(unknowns),
        max(seconds - startup()[0], 1e-4),
        max(wall - startup()[1], 1e-4),
        error(float(sheath)),
    )
