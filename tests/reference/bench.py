"""What a case is given: it measures takes with the program and with the pipeline, and notes what it compared."""

import json
import subprocess
from dataclasses import dataclass
from pathlib import Path

import soundfile

import pipeline
from takes import Take


@dataclass(frozen=True)
class Row:
    """One comparison. `good` is None where there was nothing to compare."""

    case: str
    quantity: str
    truth: str
    pipeline: str
    trimwatch: str
    bar: str
    good: bool | None


@dataclass(frozen=True)
class Measured:
    """What both found on one take. `found` is None and `problem` says why if the program gave no readings."""

    found: dict | None
    reference: dict | None
    exit_code: int
    problem: str = ""


def look_up(tree, path):
    """The value at a dotted path; None where there is none."""
    for key in path.split("."):
        tree = tree.get(key) if isinstance(tree, dict) else None
    return tree


def text(value):
    if value is None:
        return "-"
    return f"{value:.6g}" if isinstance(value, (int, float)) and not isinstance(value, bool) else str(value)


def refuse_constant(name):
    raise ValueError(f"{name} is not JSON")


class Bench:
    """The bench of one case. Without a binary the pipeline stands in for the program (a check of the reference)."""

    def __init__(self, case, folder, binary, music):
        self.case, self.folder, self.binary, self.music = case, Path(folder), binary, music
        self.rows = []

    def measure(self, take, tone=None, *, arguments=(), ending="wav", lines=0, reference=True):
        """Measures a take (or a sound file, by its path); `tone` is the expected tone, Hz."""
        path = take
        if isinstance(take, Take):
            path = self.folder / f"{self.case.replace('/', '_')}.{ending}"
            take.write(path)
        try:
            other = pipeline.measure(path, tone, lines) if reference else None
            if self.binary is None:
                return Measured(other, other, 0) if other else Measured(None, None, 0, "not in the pipeline")
            if tone is not None:
                arguments = (*arguments, "--tone", f"{tone:g}")
            return self._run(path, arguments, other)
        finally:
            if isinstance(take, Take):
                path.unlink()

    def _run(self, path, arguments, other):
        command = [self.binary, "measure", str(path), "--format", "json", *arguments]
        done = subprocess.run(command, capture_output=True, text=True, timeout=120, check=False)
        if done.returncode not in (0, 1):
            return Measured(None, other, done.returncode, f"exit {done.returncode}: {done.stderr.strip()[-120:]}")
        try:
            return Measured(json.loads(done.stdout, parse_constant=refuse_constant), other, done.returncode)
        except ValueError as error:
            return Measured(None, other, done.returncode, f"no JSON ({error})")

    def near(self, measured, path, truth, bar, *, reference=True, name=None):
        """The program's number lies within `bar` of the truth and of the pipeline's number, where there is one."""
        value = look_up(measured.found, path)
        other = look_up(measured.reference, path) if reference else None
        self.compare(name or path, truth, other, value, bar, measured.problem)

    def compare(self, name, truth, other, value, bar, problem=""):
        """`value` lies within `bar` of the truth and of the pipeline's `other`, as far as they are known."""
        if self.binary is None and value is None:
            self._note(name, truth, None, "not in the pipeline", bar, None)
            return
        wanted = [w for w in (truth, other) if w is not None]
        good = value is not None and bool(wanted) and all(abs(value - w) <= bar for w in wanted)
        self._note(name, truth, other, problem or ("null" if value is None else value), bar, good)

    def relative(self, measured, path, truth, percent, floor=0.0, **more):
        """As `near`, the bar in percent of the truth (else of the pipeline's number), at least `floor`."""
        base = truth if truth is not None else look_up(measured.reference, path)
        bar = max(abs(base or 0.0) * percent / 100, floor)
        self.near(measured, path, truth, bar, **more)

    def below(self, measured, path, limit):
        """The number is there and not above `limit`."""
        value = look_up(measured.found, path)
        good = value is not None and value <= limit
        shown = measured.problem or ("null" if value is None else value)
        self._note(path, "0", look_up(measured.reference, path), shown, f"<= {limit:g}", good)

    def holds(self, measured, claim, condition, shown):
        """`condition(found)` is true; `shown(found)` is what the table prints. The program only."""
        if self.binary is None:
            self._note(claim, None, None, "not in the pipeline", None, None)
            return
        if measured.found is None:
            self._note(claim, None, None, measured.problem, None, False)
            return
        self._note(claim, None, None, str(shown(measured.found)), None, bool(condition(measured.found)))

    def no_number(self, measured, group, *paths):
        """The group's status says why in words, and the numbers are null."""
        self.holds(
            measured,
            f"{group}: words, no numbers",
            lambda r: r[group]["status"] not in (None, "", "ok") and all(look_up(r, p) is None for p in paths),
            lambda r: f"'{r[group]['status']}' " + " ".join(text(look_up(r, p)) for p in paths),
        )

    def no_speed_nor_flutter(self, measured):
        self.no_number(measured, "speed", "speed.deviation_percent", "speed.measured_hz")
        kinds = [f"flutter.{k}.{n}_percent" for k in ("weighted", "unweighted") for n in ("rms", "two_sigma", "quasi_peak")]
        self.no_number(measured, "flutter", *kinds)

    def status(self, measured, group, wanted="ok"):
        self.holds(measured, f"{group} status '{wanted}'", lambda r: r[group]["status"] == wanted, lambda r: r[group]["status"])

    def notice(self, measured, code, wanted=True):
        """A notice of this code is there, or is not."""
        claim = f"notice '{code}'" if wanted else f"no notice '{code}'"

        def codes(found):
            return [n["code"] for n in found["notices"]]

        self.holds(measured, claim, lambda r: (code in codes(r)) == wanted, lambda r: " ".join(codes(r)) or "none")

    def exits(self, measured, *codes):
        self.holds(measured, f"exit {' or '.join(map(str, codes))}", lambda r: measured.exit_code in codes, lambda r: measured.exit_code)

    def skip(self, why):
        self._note("SKIPPED", None, None, why, None, None)

    def read_music(self, index, seconds):
        """A stretch of real music: its path, samples and rate; None where there is no music."""
        if index >= len(self.music):
            return None
        with soundfile.SoundFile(self.music[index]) as file:
            file.seek(int(10 * file.samplerate))
            return file.read(int(seconds * file.samplerate), always_2d=True), file.samplerate

    def _note(self, quantity, truth, other, value, bar, good):
        # A comparison with a number of numpy's gives a truth value of its own, which is neither True nor False.
        good = None if good is None else bool(good)
        self.rows.append(Row(self.case, quantity, text(truth), text(other), text(value), text(bar), good))
