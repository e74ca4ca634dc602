"""The mechanism: takes of decks whose parts are written into a mechanism file, held against what was put in and against
scipy's periodogram and Lomb-Scargle periodogram of the same take's deviation."""

import numpy as np
from scipy import signal

import pipeline
from cases import case, each
from takes import Line, Motion, Tone, random_wow

SPEED_M_PER_S = 0.047625
TONE = 3150.0


def deviation_of(take):
    """Speed deviation of a take by the reference pipeline, percent, decimated to about 500 values a second."""
    z, rate, centre = pipeline.baseband(take.samples[:, 0], take.rate_hz, TONE, 900.0)
    part = pipeline.steady_part(z, rate)
    phase = pipeline.continuous_phase(z[part], rate)
    deviation = (np.diff(phase) * rate / (2 * np.pi) + centre) / TONE * 100 - 100
    step = int(rate / 500)
    return signal.decimate(deviation, step, ftype="fir", zero_phase=True), rate / step


def periodogram_sizes(x, rate, rates):
    """Peak sizes at given rates: Hann-windowed periodogram, zero padded so that the nearest bin is near enough."""
    padded = 1 << int(np.ceil(np.log2(16 * len(x))))
    f, power = signal.periodogram(x - x.mean(), rate, "hann", nfft=padded, scaling="spectrum")
    return [float(np.sqrt(2 * power[np.abs(f - r) < 0.02].max())) for r in rates]


def lomb_scargle_rates(x, rate, rates):
    """Rates of the greatest Lomb-Scargle power around given rates, of the windowed deviation."""
    x = signal.detrend(x) * signal.windows.hann(len(x))
    t = np.arange(len(x)) / rate
    found = []
    for r in rates:
        f = r + np.linspace(-0.02, 0.02, 81)
        power = signal.lombscargle(t, x, 2 * np.pi * f)
        k = int(np.clip(np.argmax(power), 1, len(f) - 2))
        a, b, c = np.log(power[k - 1 : k + 2])
        found.append(float(f[k] + 0.5 * (a - c) / (a - 2 * b + c) * (f[1] - f[0])))
    return found


def deck_file(bench, parts):
    """A mechanism file of parts: (name, kind, diameter in mm or None, rate in Hz or None)."""
    text = f'name = "reference"\ntitle = "Reference"\ntape_speed_m_per_s = {SPEED_M_PER_S}\nsource = "invented"\n'
    for name, kind, diameter, rate in parts:
        figure = f"diameter_mm = {diameter}" if diameter else f"rate_hz = {rate}"
        text += f'\n[[part]]\nname = "{name}"\nkind = "{kind}"\n{figure}\n'
    path = bench.folder / f"{bench.case.replace('/', '_')}.toml"
    path.write_text(text)
    return path


def rate_of(part):
    _, _, diameter, rate = part
    return rate or SPEED_M_PER_S * 1000 / (np.pi * diameter)


def rows_of(measured):
    mechanism = (measured.found or {}).get("mechanism") or {}
    return [row for row in mechanism.get("rows", []) if row["rate_hz"]]


def nearest(rows, rate):
    return min(rows, key=lambda row: abs(row["rate_hz"]["value"] - rate), default=None)


def hold(bench, take, parts, truth, seconds_bar=1e-3):
    """`truth`: (part, order, rate in Hz, peak percent)."""
    measured = bench.measure(take, TONE, arguments=("--deck", str(deck_file(bench, parts))), reference=False)
    if bench.binary is None:
        return
    x, rate = deviation_of(take)
    rates = [line[2] for line in truth]
    rows = rows_of(measured)
    sizes = periodogram_sizes(x, rate, rates)
    scargle = lomb_scargle_rates(x, rate, rates)
    for (part, order, true_rate, true_size), size, other in zip(truth, sizes, scargle):
        row = nearest(rows, true_rate) or {"rate_hz": {"value": None}, "peak_percent": {"value": None}}
        name = f"{part} {order}"
        bench.compare(f"{name} rate", true_rate, other, row["rate_hz"]["value"], seconds_bar * true_rate, measured.problem)
        # Neighbours colour the periodogram, which the program takes out: held to it less closely.
        bench.compare(f"{name} size", true_size, None, row["peak_percent"]["value"], 0.05 * true_size, measured.problem)
        bench.compare(f"{name} size, periodogram", size, None, row["peak_percent"]["value"], 0.08 * size, measured.problem)
        bench.holds(
            measured,
            f"{name} is named",
            lambda _, row=row, part=part, order=order: (row.get("part"), row.get("order")) == (part, order),
            lambda _, row=row: row.get("label"),
        )
    true_names = {(part, order) for part, order, _, _ in truth}
    false_names = [row["label"] for row in rows if row["part"] and (row["part"], row["order"]) not in true_names]
    bench.holds(measured, "nothing else is named", lambda _: not false_names, lambda _: false_names)
    shares = sum(row["share"] for row in (measured.found or {}).get("mechanism", {}).get("rows", []))
    bench.compare("shares add up", 1.0, None, shares, 1e-6, measured.problem)


CASSETTE = (
    ("take-up capstan", "capstan", 2.5, None),
    ("supply capstan", "capstan", 2.2, None),
    ("take-up pinch roller", "pinch_roller", 12.0, None),
    ("belt", "belt", None, 4.35),
    ("motor pulley", "motor", None, 33.3),
    ("idler", "idler", None, 9.4),
)


@each("mechanism/cassette_{0}_at_{1:+g}_percent", [(1, 0.0), (2, 2.0), (3, -1.3)])
def cassette(bench, seed, speed):
    """Six parts, of which one is silent; the deck runs off its speed and all rates with it."""
    rng = np.random.default_rng(700 + seed)
    silent = rng.integers(len(CASSETTE))
    truth = []
    for k, part in enumerate(CASSETTE):
        if k == silent:
            continue
        for order in range(1, rng.integers(2, 5)):
            rate = order * rate_of(part) * (1 + speed / 100)
            truth.append((part[0], order, rate, float(0.06 * np.exp(-rng.uniform(0, 2.4)))))
    lines = tuple(Line(rate, size, rng.uniform(0, 6.28)) for _, _, rate, size in truth)
    # So slow a wow that it lies below the parts' rates.
    wow = random_wow(0.02, 0.1, 0.8, seed)
    take = Tone(TONE, 60, motion=Motion(speed, lines + wow), snr_db=50, seed=seed).make()
    hold(bench, take, CASSETTE, truth)


@case("mechanism/capstans_near_each_other")
def capstans(bench):
    parts = (("first capstan", "capstan", None, 6.06), ("second capstan", "capstan", None, 6.21))
    truth = [("first capstan", 1, 6.06, 0.04), ("second capstan", 1, 6.21, 0.02)]
    lines = tuple(Line(rate, size, 1.0 + k) for k, (_, _, rate, size) in enumerate(truth))
    hold(bench, Tone(TONE, 20.6, motion=Motion(0.0, lines), snr_db=50).make(), parts, truth)


@case("mechanism/no_lines")
def no_lines(bench):
    take = Tone(TONE, 30, motion=Motion(0.4, random_wow(0.03, 0.2, 6.0, 3, count=400)), snr_db=50).make()
    hold(bench, take, CASSETTE, [])
