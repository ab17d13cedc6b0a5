"""The spin map as a picture: force across, time up, the ridge, and what stands where in words for a screen reader."""

import io

from matplotlib import colormaps
from matplotlib.backends.backend_svg import FigureCanvasSVG
from matplotlib.figure import Figure

from plasmawright.preparation.spin_map import SpinMap

WIDTH_INCH, HEIGHT_INCH = 7.0, 5.0
# Plasma amber on paper: from bare paper to the deepest amber, so that more is darker in print as well.
COLOURS = "YlOrBr"


def render_spin_map(found: SpinMap) -> bytes:
    """Return the map as SVG; the same map is the same bytes."""
    import matplotlib as mpl

    with mpl.rc_context({"svg.hashsalt": "plasmawright", "svg.fonttype": "path", "font.size": 10}):
        figure = Figure(figsize=(WIDTH_INCH, HEIGHT_INCH), layout="constrained")
        FigureCanvasSVG(figure)
        axes = figure.add_subplot()
        shades = axes.pcolormesh(
            found.rcf, found.minutes, found.recovery_frac.T, cmap=colormaps[COLOURS], shading="nearest", rasterized=True
        )
        lines = axes.contour(
            found.rcf, found.minutes, found.recovery_frac.T, levels=8, colors="black", linewidths=0.6, alpha=0.6
        )
        axes.clabel(lines, fmt="%.2f", fontsize=8)
        axes.plot(found.rcf, found.ridge_minutes, color="black", linewidth=2.0, linestyle=(0, (4, 2)))
        axes.set_xscale("log")
        axes.set_xticks(_round_forces(found), labels=[f"{force:g}" for force in _round_forces(found)])
        axes.minorticks_off()
        axes.set_ylim(found.minutes[0], found.minutes[-1])
        axes.set_xlabel("force at the tube's bottom (g)")
        axes.set_ylabel("time at speed (min)")
        axes.set_title("Predicted share of the drawn platelets; dashed: the best time for each force", fontsize=10)
        figure.colorbar(shades, label="share of the drawn platelets")
        written = io.BytesIO()
        figure.savefig(written, format="svg", metadata={"Date": None, "Title": "Spin map, predicted"})
    return written.getvalue()


def _round_forces(found: SpinMap) -> list[float]:
    """Return the round forces that lie inside the map."""
    rounded = [mark * 10.0**power for power in range(5) for mark in (1, 1.5, 2, 3, 5, 7)]
    return [force for force in rounded if found.rcf[0] <= force <= found.rcf[-1]]
