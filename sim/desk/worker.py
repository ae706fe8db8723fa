"""A process that answers one request after the other: a JSON line in, JSON lines out, the last of which is the end.

Lines in: {"do": job, "ask": {...}}, or {"stop": true}, on which the job ends where it next tells how far it is. Lines
out: what the job tells, then one of {"done": {...}}, {"faults": [{"key", "message"}]}, {"failed": "..."} or
{"stopped": true}. It ends with its standard input.
"""

import json
import os
import queue
import signal
import sys
import threading
from concurrent.futures import CancelledError
from pathlib import Path
from typing import Any

from sim.case import CaseError

FAULT = "internal fault, no answer: "


def answer(bench: Any, line: dict[str, Any], tell: Any) -> dict[str, Any]:
    """The last line of one request, whatever becomes of it."""
    from sim.desk.jobs import JOBS, faults
    from sim.solve.steady import NotConverged

    try:
        return {"done": JOBS[line["do"]](bench, line["ask"], tell)}
    except CancelledError:
        return {"stopped": True}
    except CaseError as error:
        return {"faults": faults(error)}
    except NotConverged as error:
        return {"failed": f"did not converge: {error}"}
    except MemoryError:
        return {"failed": "not enough memory"}
    except ValueError as error:  # a section that cannot be meshed
        return {"failed": str(error)}
    except OSError as error:
        return {"failed": f"{error.filename or ''}: {error.strerror or error}".lstrip(": ")}
    except Exception as error:  # a fault of the program is told, and the next request is answered
        import traceback

        frame = traceback.extract_tb(error.__traceback__)[-1]
        place = f"{os.path.basename(frame.filename)}:{frame.lineno}"
        return {"failed": f"{FAULT}{type(error).__name__} ({str(error)[:80]}) at {place}; please report it"}


def main() -> None:
    """Run until the input ends. The only argument is the desk's folder."""
    signal.signal(signal.SIGINT, signal.SIG_IGN)  # a key pressed on the terminal is the server's
    out = os.fdopen(os.dup(1), "w", encoding="utf-8")
    os.dup2(2, 1)  # what a library prints is no answer
    waiting: queue.SimpleQueue[dict[str, Any] | None] = queue.SimpleQueue()
    stop = threading.Event()

    def take_in() -> None:
        for text in sys.stdin:
            line = json.loads(text)
            if line.get("stop"):
                stop.set()
            else:
                waiting.put(line)
        waiting.put(None)
        stop.set()  # whoever asked is gone

    def put(line: dict[str, Any]) -> None:
        out.write(json.dumps(line, allow_nan=False) + "\n")
        out.flush()

    def tell(part: dict[str, Any]) -> None:
        if stop.is_set():
            raise CancelledError
        put(part)

    threading.Thread(target=take_in, daemon=True).start()
    from sim.desk.folder import Folder
    from sim.desk.jobs import Bench

    bench = Bench(Folder(Path(sys.argv[1])))
    for line in iter(waiting.get, None):
        last = answer(bench, line, tell)
        stop.clear()
        put(last)


if __name__ == "__main__":
    main()
