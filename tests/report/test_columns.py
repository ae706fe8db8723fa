"""Tables of the terminal: at every width every number is there whole."""

from rich.console import Console

from sim.report.terminal import columns


def test_no_number_is_cut_at_any_width() -> None:
    heads = ("limit", "value", "margin", "inputs, K")
    row = (
        "winter, support S1 with its allowance",
        "sheath of T1 not above 150.0 degC",
        "135.7 ± 2.6",
        "+14.3 K",
        "11",
    )
    for width in range(60, 100):
        console = Console(width=width, markup=False, highlight=False)
        with console.capture() as capture:
            console.print(columns(console, "nearest limit", heads, [row]))
        shown = " ".join(capture.get().split())
        for cell in ("135.7 ± 2.6", "+14.3 K", "11", "inputs, K"):
            assert cell in shown, (width, cell)
