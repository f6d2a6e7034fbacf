"""Speed and memory as ratios of one run: python tests/benchmarks/benchmarks.py

Prints one table, writes nothing, takes about a minute. Times are medians of several repeats after a warm-up.
Our engine is held to one core, the reference renderer gets all: run it on an idle machine; other work takes
cores from the renderer first. Rows whose program is not installed say so.
"""

from __future__ import annotations

import os
import platform
import re
import shutil
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from importlib.metadata import PackageNotFoundError, version
from pathlib import Path
from typing import Any

import numpy as np

import lightsim
from lightsim.light.cast import Caster
from lightsim.light.estimate import Estimate, by_replicate, mean_of
from lightsim.light.forward import trace
from lightsim.light.near import arrivals
from lightsim.light.scene import Scene
from lightsim.measure.report import report, with_ranges
from lightsim.rig.errors import RigError

sys.path.insert(0, str(Path(__file__).resolve().parents[1]))
from reference.scenes import flat_sheet, sheet_with_hole, white_box

TARGET = 0.003  # relative standard error of the illuminance
REPLICATES = 16
REPEATS = 9
DESIGN = "white-box"  # the ready design for the rows of the command line
FOLDERS = (
    "/usr/lib/*/libLLVM*.so*",
    "/usr/lib/llvm-*/lib/libLLVM*.so*",
    "/usr/lib64/libLLVM*.so*",
    "/usr/local/lib/libLLVM*.so*",
    "/opt/homebrew/opt/llvm*/lib/libLLVM*.dylib",
    "/usr/local/opt/llvm*/lib/libLLVM*.dylib",
)
OLDEST_LLVM = 17  # 14 to 16 are refused or crash the renderer
# Runs a command, prints its seconds and peak memory [MB]; small, as a child inherits its parent's peak.
MEASURED_CHILD = """
import os, subprocess, sys, time
start = time.perf_counter()
child = subprocess.Popen(sys.argv[1:], stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL)
_, status, usage = os.wait4(child.pid, 0)
peak = usage.ru_maxrss / (1024 if sys.platform == "linux" else 1024**2)
print(time.perf_counter() - start, peak, os.waitstatus_to_exitcode(status))
"""


@dataclass(frozen=True)
class Row:
    """One line of the table."""

    what: str
    measured: str
    ratio: str = ""
    target: str = ""


@dataclass(frozen=True)
class Run:
    """One size tried: seconds (median), relative standard error (root mean square over seeds)."""

    size: int
    seconds: float
    error: float

    @property
    def cost(self) -> float:
        """Seconds to TARGET by repeating this size as often as it takes, at least once."""
        return self.seconds * max(1.0, (self.error / TARGET) ** 2)


class Recorder:
    """A caster that keeps the rays it was asked for."""

    name = "recorder"

    def __init__(self, inner: Caster) -> None:
        self.inner = inner
        self.rays: list[tuple[Any, Any]] = []

    def nearest(self, start: Any, direction: Any) -> Any:
        self.rays.append((start.copy(), direction.copy()))
        return self.inner.nearest(start, direction)


def main() -> None:
    print(machine())
    rows = [*command_line(), *pictures(), *against_renderer()]
    with_one_core(lambda: rows.extend([throughput(), *proportion(), *fine_mesh()]))
    print("| what | measured | ratio | target |\n| --- | --- | --- | --- |")
    for row in rows:
        print(f"| {row.what} | {row.measured} | {row.ratio} | {row.target} |")


def machine() -> str:
    """Processor, cores and versions, without anything private."""
    processor = platform.processor() or platform.machine()
    described = Path("/proc/cpuinfo")
    if described.exists():
        found = re.search(r"^model name\s*:\s*(.+)$", described.read_text(), flags=re.M)
        processor = found[1] if found else processor
    packages = ", ".join(f"{name} {_version(name)}" for name in ("numpy", "embreex", "mitsuba"))
    busy = f", load at start {os.getloadavg()[0]:.1f}" if hasattr(os, "getloadavg") else ""
    return f"{processor}, {os.cpu_count()} cores, Python {platform.python_version()}, {packages}{busy}\n"


def illuminance(scene: Scene, *, points: int, seed: int) -> Estimate:
    """Ours: illuminance at the subject on a plane that faces the lens."""
    seen = arrivals(trace(scene, points=points, replicates=REPLICATES, seed=seed), np.zeros(3))
    received = seen.weight * np.maximum(seen.direction[:, 2], 0)
    return mean_of(by_replicate(received, seen.replicate, REPLICATES))


def against_renderer() -> list[Row]:
    """Seconds to 0.3 % of E, ours on one core against the reference renderer's vectorised mode on all."""
    scenes = {"white box": (white_box(), 4), "flat sheet": (flat_sheet(power=1), 1)}
    scenes["sheet with hole and barrel"] = (sheet_with_hole(), 1)
    renderer = _renderer()
    if renderer is None:
        return [Row("against the reference renderer", "needs mitsuba and LLVM 17 or newer: skipped")]
    rows = []
    for name, (scene, aim) in scenes.items():
        own = with_one_core(
            lambda scene=scene: best(
                lambda points, seed: illuminance(scene, points=points, seed=seed),
                [512 * 2**k for k in range(6)],
            )
        )
        for sampler in ("independent", "multijitter"):
            translated = renderer.translate(scene, sampler=sampler)
            theirs = best(
                lambda samples, seed, translated=translated: renderer.illuminance(
                    translated, samples=samples, seed=seed
                ),
                [4**k for k in range(7, 11)],
            )
            rows.append(
                Row(
                    f"{name}: E to 0.3 %, reference renderer with {sampler} sampler / ours",
                    f"{_tried(theirs)} / {_tried(own)}",
                    f"{theirs.cost / own.cost:.2f}",
                    f">= {aim}",
                )
            )
    return rows


def best(measure: Callable[[int, int], Estimate], sizes: Sequence[int]) -> Run:
    """The size that gets to TARGET soonest."""
    runs = []
    for size in sizes:
        measure(size, 0)
        seconds, square = [], []
        for seed in range(1, REPEATS + 1):
            start = time.perf_counter()
            estimate = measure(size, seed)
            seconds.append(time.perf_counter() - start)
            square.append((estimate.standard_error / estimate.value) ** 2)
        runs.append(Run(size, float(np.median(seconds)), float(np.sqrt(np.mean(square)))))
    return min(runs, key=lambda run: run.cost)


def throughput() -> Row:
    """Rays a second of a whole trace of the white box against the bare caster on the same rays."""
    scene = white_box()
    recorder = Recorder(scene.everything)
    recorded = trace(replace(scene, everything=recorder), points=4096, replicates=REPLICATES, seed=1)

    def bare() -> None:
        for start, direction in recorder.rays:
            scene.everything.nearest(start, direction)

    def whole() -> None:
        trace(scene, points=4096, replicates=REPLICATES, seed=1)

    shaded, alone = alternate(whole, bare, repeats=REPEATS)
    million = recorded.rays / 1e6
    return Row(
        f"white box, rays a second with shading / bare {scene.everything.name}",
        f"{million / shaded:.2f} / {million / alone:.2f} million",
        f"{alone / shaded:.2f}",
        ">= 0.5",
    )


def proportion() -> list[Row]:
    """Cost against paths."""
    scene, factors = white_box(), (1, 2, 4, 8)
    tasks = [lambda k=k: illuminance(scene, points=1024 * k, seed=1) for k in factors]
    seconds = alternate(*tasks, repeats=REPEATS)
    return [
        Row(
            f"white box, {k} x {1024 * REPLICATES:,} paths: cost a path / at 1 x",
            f"{each * 1e3:.0f} ms",
            f"{each / seconds[0] / k:.2f}",
            "about 1",
        )
        for k, each in zip(factors, seconds, strict=True)
    ]


def fine_mesh() -> list[Row]:
    """The same box in 100,000 triangles."""
    coarse, fine = white_box(), white_box(92)
    one, many = alternate(
        *(lambda scene=scene: illuminance(scene, points=4096, seed=1) for scene in (coarse, fine)),
        repeats=REPEATS,
    )
    start = time.perf_counter()
    white_box(92)
    built = time.perf_counter() - start
    return [
        Row(
            f"white box of {len(fine.part):,} triangles / of {len(coarse.part)}, equal paths",
            f"{many * 1e3:.0f} / {one * 1e3:.0f} ms (and {built * 1e3:.0f} ms to build it, once)",
            f"{many / one:.2f}",
            "<= 3",
        )
    ]


def command_line() -> list[Row]:
    """Cold starts and peak memory of the installed program, and all figures in a running process."""
    rows = [*cold(["--help"], 0.3), *cold(["report", DESIGN], 1.0)]
    return rows + building() + all_figures()


def building() -> list[Row]:
    """Whether it fits, the pattern as files, and what a builder's errors do, from a standing start."""
    files = [word for kind in ("pdf", "svg", "dxf") for word in (f"--{kind}", f"pattern.{kind}")]
    rows = cold(["check", DESIGN], 1.0, most=None, repeats=3)
    rows += cold(["shot", DESIGN], 3.0, most=None, repeats=3)
    rows += cold(["pattern", DESIGN, *files, "--replace"], 2.0, most=None, repeats=3)
    return rows + cold(["tolerances", DESIGN], 30.0, most=None, repeats=1)


def cold(arguments: list[str], aim: float, *, most: int | None = 300, repeats: int = 5) -> list[Row]:
    """Seconds of a command from a standing start, and its peak memory where there is a target for it [MB]."""
    what = " ".join(["lightsim", *arguments])
    beside = str(Path(sys.executable).parent)
    program = shutil.which("lightsim", path=beside) or shutil.which("lightsim")
    if program is None:
        return [Row(f"{what}, cold", "lightsim is not on the path: skipped", target=f"<= {aim} s")]
    with tempfile.TemporaryDirectory() as folder:
        runs = [child([program, *arguments], folder=folder) for _ in range(repeats)]
    if any(code for _, _, code in runs):
        return [Row(f"{what}, cold", "ended with an error", target=f"<= {aim} s")]
    seconds, peak = (float(np.median([run[k] for run in runs])) for k in (0, 1))
    rows = [Row(f"{what}, cold", f"{seconds:.2f} s", f"{seconds / aim:.2f} of target", f"<= {aim} s")]
    if most is not None:
        rows.append(Row(f"{what}, peak memory", f"{peak:.0f} MB", f"{peak / most:.2f} of target", f"<= {most} MB"))
    return rows


def pictures() -> list[Row]:
    """Pages and pictures from a standing start; a portrait in a running process, the first and a following one."""
    from lightsim.measure.view import view_of
    from lightsim.picture.illumination import illumination_of
    from lightsim.picture.portrait import portrait_of

    page = ["--html", "page.html", "--replace"]
    rows = cold(["compare", *page], 6.0, most=None, repeats=3)
    rows += cold(["report", "bare-flash", "--figures", "pictures", "--replace"], 2.5, most=None, repeats=3)
    lights = [lightsim.trace(lightsim.load(design)) for design in ("bare-flash", DESIGN)]
    lit = [illumination_of(light, view_of(light)) for light in lights]
    for quality, aim in (("preview", 3.0), ("clean", 60.0)):
        for which, light, illumination in zip(("the first", "the next"), lights, lit, strict=True):
            start = time.perf_counter()
            portrait_of(illumination, light.placed, quality=quality)  # type: ignore[arg-type]
            seconds = time.perf_counter() - start
            what = f"{quality} portrait, {which}"
            rows.append(Row(what, f"{seconds:.2f} s", f"{seconds / aim:.2f} of target", f"<= {aim:g} s"))
    return rows


def all_figures() -> list[Row]:
    """Illuminance to 0.5 % and every figure of one rig, warm, in process, and the ranges of its materials."""
    rows = []
    for design, aim in ((DESIGN, 0.25), ("flat-film", None), ("foil-box", None)):
        what = f"{design}: illuminance to 0.5 % and all figures, in process"
        target = f"<= {aim} s" if aim else ""
        try:
            rig = lightsim.load(design)
            light = lightsim.trace(rig, error=0.005)
            plain = report(light)
            tasks = (
                lambda rig=rig: report(lightsim.trace(rig, error=0.005)),
                lambda plain=plain, light=light: with_ranges(plain, light),
            )
        except (ImportError, RigError) as error:
            rows.append(Row(what, f"not to be had here ({type(error).__name__}): skipped", target=target))
            continue
        figures, ranges = with_one_core(lambda tasks=tasks: alternate(*tasks, repeats=REPEATS))
        ratio = f"{figures / aim:.2f} of target" if aim else ""
        rows.append(Row(what, f"{figures:.2f} s", ratio, target))
        rows.append(
            Row(
                f"{design}: how far the materials move them / the figures", f"{ranges:.2f} s", f"{ranges / figures:.2f}"
            )
        )
    return rows


def child(command: Sequence[str], *, folder: str) -> tuple[float, float, int]:
    """Seconds, peak memory [MB] and exit code of a command run in a folder."""
    answer = subprocess.run(
        [sys.executable, "-I", "-S", "-c", MEASURED_CHILD, *command],
        capture_output=True,
        text=True,
        check=True,
        cwd=folder,
    )
    seconds, peak, code = answer.stdout.split()
    return float(seconds), float(peak), int(code)


def alternate(*tasks: Callable[[], Any], repeats: int) -> list[float]:
    """Median seconds of each task, taken in turns so that a busy moment meets all alike, after a warm-up."""
    seconds = np.empty((repeats + 1, len(tasks)))
    for turn in range(repeats + 1):
        for number, task in enumerate(tasks):
            start = time.perf_counter()
            task()
            seconds[turn, number] = time.perf_counter() - start
    return [float(value) for value in np.median(seconds[1:], axis=0)]


def with_one_core(task: Callable[[], Any]) -> Any:
    """The task's result, this thread held to one core where the system can."""
    if not hasattr(os, "sched_setaffinity"):
        return task()
    allowed = os.sched_getaffinity(0)
    os.sched_setaffinity(0, {min(allowed)})
    try:
        return task()
    finally:
        os.sched_setaffinity(0, allowed)


def _tried(run: Run) -> str:
    return f"{run.cost * 1e3:.1f} ms ({run.size:,}: {run.seconds * 1e3:.1f} ms, {run.error:.2%})"


def _renderer() -> Any:
    """The translation module with the renderer in its vectorised mode, None where that is not to be had."""
    library = os.environ.get("DRJIT_LIBLLVM_PATH") or _llvm()
    if library is None:
        return None
    os.environ["DRJIT_LIBLLVM_PATH"] = library
    try:
        import mitsuba
    except ImportError:
        return None
    mitsuba.set_variant("llvm_ad_rgb")
    mitsuba.set_log_level(mitsuba.LogLevel.Error)
    from reference import mitsuba_scene

    return mitsuba_scene


def _llvm() -> str | None:
    """The newest LLVM library in the usual folders, told by its name."""
    found = {}
    for pattern in FOLDERS:
        for path in Path("/").glob(pattern.lstrip("/")):
            number = re.search(r"libLLVM(?:-|\.so\.|\.)(\d+)", path.name)
            if number and int(number[1]) >= OLDEST_LLVM:
                found[int(number[1])] = str(path)
    return found[max(found)] if found else None


def _version(package: str) -> str:
    try:
        return version(package)
    except PackageNotFoundError:
        return "not installed"


if __name__ == "__main__":
    main()
