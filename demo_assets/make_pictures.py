"""Makes the pictures of the README from the demo: `.venv/bin/python demo_assets/make_pictures.py`."""
from pathlib import Path

from fxseq.checks import load_prop, perform
from fxseq.fit import fit
from fxseq.plots import fit_figure, preview_figure, save, tune_figure
from fxseq.tune import TuneReport, sweep

HERE = Path(__file__).parent
PICTURES = HERE / "pictures"
TRIGGER = "storm_signal"
FIT_BYTES = 24576
RATES_PER_S = [*range(1, 21)]


def main() -> None:
    """Write all pictures."""
    prop = load_prop(HERE / "squall_lantern.toml")
    PICTURES.mkdir(exist_ok=True)
    performance = perform(prop, prop.script()[0])
    save(preview_figure(performance, "light"), PICTURES / "preview.png")
    fitted = fit(performance, prop.sequence.board.codings)
    save(fit_figure(fitted, fitted.best(FIT_BYTES), FIT_BYTES, "light"), PICTURES / "fit.png")
    present = prop.sequence.triggers[TRIGGER].rate_per_s
    save(tune_figure(TuneReport(TRIGGER, present, tuple(sweep(prop, TRIGGER, RATES_PER_S))), "light"), PICTURES / "tune.png")


if __name__ == "__main__":
    main()
