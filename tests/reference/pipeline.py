"""An offline measuring pipeline on whole takes, independent of the program's streaming one.

It sees the take at once, so it can do what a stream cannot: one Fourier transform of everything, the analytic signal
of the band around the tone, a least-squares line through its phase, weighting by multiplying the spectrum of the
deviation with the table's gain (no filter, no delay, no settling), percentiles of all samples, and a joint
least-squares fit of all flutter lines. Quasi-peak is not modelled: its truth on a steady line is analytic.

    python pipeline.py TAKE [--tone HZ]        prints what it finds, in the shape of trimwatch.readings/1
"""

import argparse
import json

import numpy as np
import soundfile
from scipy import fft, optimize, signal

from weighting import gain

# Left out at each end of the tone: the edges of the band-pass and of the take itself.
EDGE_S = 0.15
# Left out at each end of the filtered deviation, at most: the circular wrap of the low end of the filters.
SETTLE_S = 4.0
# A take whose strongest narrow band holds less than this part of its power has no tone.
TONE_SHARE = 0.5


def measure(path, tone_hz=None, lines=0):
    """Readings of a recording, in the shape of trimwatch.readings/1 (the parts that the checks use).

    `lines`: how many flutter lines to fit (the slow part)."""
    samples, rate_hz = soundfile.read(path, always_2d=True)
    samples = np.nan_to_num(samples, nan=0.0, posinf=0.0, neginf=0.0)
    found = find_tone(samples, rate_hz)
    readings = {
        "tone": {"status": "ok" if found else "no tone"},
        "speed": {"status": "no tone", "deviation_percent": None},
        "flutter": {"status": "no tone", "weighted": {}, "unweighted": {}, "bands": {}, "components": []},
        "level": level(samples),
        "phase": {"status": "no signal", "delay_us": None},
        "notices": [{"code": "clipping"}] if clipped(samples) else [],
    }
    if not np.any(samples):
        readings["tone"]["status"] = "no signal"
    elif found:
        readings |= tone_readings(samples, rate_hz, found, tone_hz, lines)
        readings["level"] |= readings.pop("tone_level")
    elif samples.shape[1] == 2:
        readings["phase"] = noise_delay(samples, rate_hz)
    return readings


def find_tone(samples, rate_hz):
    """Frequency and channel of the steady tone, or None; from the middle of the take, before anything is assumed."""
    frames = min(len(samples), 1 << 18)
    if frames < 2048:
        return None
    first = (len(samples) - frames) // 2
    best = None
    for channel in range(samples.shape[1]):
        x = samples[first : first + frames, channel]
        power = np.abs(fft.rfft((x - x.mean()) * signal.windows.blackmanharris(frames))) ** 2
        bin_hz = rate_hz / frames
        low = int(100 / bin_hz)
        peak = low + int(np.argmax(power[low:]))
        # Flutter spreads the line; what is within 1.5 % of it or 60 Hz still belongs to the tone.
        reach = int(max(60, 0.015 * peak * bin_hz) / bin_hz)
        near = slice(max(low, peak - reach), peak + reach + 1)
        share = power[near].sum() / max(power[low:].sum(), 1e-300)
        centre = np.sum(np.arange(len(power))[near] * power[near]) / max(power[near].sum(), 1e-300)
        if share > TONE_SHARE and (best is None or power[near].sum() > best[2]):
            best = centre * bin_hz, channel, power[near].sum()
    return best and best[:2]


def baseband(x, rate_hz, centre_hz, half_width_hz):
    """The band centre +- half width of the whole take, moved to zero: complex samples and their rate.

    Flat to half the half width on either side, then a raised cosine down to nothing."""
    spectrum = fft.rfft(x)
    bin_hz = rate_hz / len(x)
    centre = int(round(centre_hz / bin_hz))
    count = fft.next_fast_len(2 * int(np.ceil(half_width_hz / bin_hz)) + 1)
    offsets = fft.fftfreq(count, 1 / count).astype(int)
    index = centre + offsets
    inside = (index > 0) & (index < len(spectrum))
    band = np.zeros(count, complex)
    band[inside] = spectrum[index[inside]]
    away = np.abs(offsets) * bin_hz / half_width_hz
    band *= 0.5 + 0.5 * np.cos(np.pi * np.clip((away - 0.5) / 0.5, 0, 1))
    return fft.ifft(band) * (count / len(x)) * 2, rate_hz * count / len(x), centre * bin_hz


def tone_readings(samples, rate_hz, found, tone_hz, lines):
    tone, loudest = found
    # Far enough for the fastest flutter, yet clear of zero, of hum and of the third harmonic.
    half_width = min(0.45 * tone, 900.0, 0.45 * (rate_hz / 2 - tone) + 200.0)
    bands = [baseband(samples[:, c], rate_hz, tone, half_width) for c in range(samples.shape[1])]
    _, band_rate, centre = bands[0]
    z = np.array([b[0] for b in bands])
    part = steady_part(z[loudest], band_rate)
    z = z[:, part]
    power = np.mean(np.abs(z) ** 2, axis=1)
    alive = power > 1e-4 * power.max()  # a channel 40 dB down has nothing to say
    phases = np.array([continuous_phase(row, band_rate) for row in z])
    weights = (power * alive) / np.sum(power * alive)
    phase = weights @ phases
    t = (np.arange(len(phase)) - (len(phase) - 1) / 2) / band_rate
    measured = [centre + np.polynomial.polynomial.polyfit(t, p, 1)[1] / (2 * np.pi) for p in phases]
    slope = centre + np.polynomial.polynomial.polyfit(t, phase, 1)[1] / (2 * np.pi)
    reference = tone_hz or min((3000.0, 3150.0), key=lambda f: abs(slope - f))
    expected = abs(slope / reference - 1) < 0.2
    # Flutter is the speed deviation about its mean: in percent of the reference, like that.
    deviation = (np.diff(phase) * band_rate / (2 * np.pi) + centre) / reference * 100 - 100
    curvature = np.polynomial.polynomial.polyfit(t, phase, 2)[2] * 2 / (2 * np.pi)
    levels = 10 * np.log10(np.maximum(power, 1e-30))
    two = len(z) == 2 and alive.all()
    return {
        "tone": {"status": "ok", "left_hz": measured[0], "right_hz": measured[-1] if len(measured) == 2 else None},
        "speed": {
            "status": "ok" if expected else "not the expected tone",
            "reference_hz": reference,
            "measured_hz": slope,
            "deviation_percent": 100 * (slope / reference - 1) if expected else None,
            "trend_percent_per_minute": 100 * curvature / reference * 60,
        },
        "flutter": flutter(deviation, band_rate, lines) if expected else {"status": "not the expected tone"},
        "phase": tone_phase(z, slope) if two else {"status": "one channel only", "delay_us": None},
        "tone_level": {"balance_db": levels[0] - levels[1] if two else None},
    }


def continuous_phase(z, band_rate):
    """Unwrapped phase. In a dropout the band-pass rings through zero and the phase could slip a cycle: there it is
    bridged by a straight line, whole cycles chosen by the mean of the frequencies just before and after."""
    phase = np.unwrap(np.angle(z))
    near = max(int(0.01 * band_rate), 2)
    weak = np.abs(z) < 0.5 * np.median(np.abs(z))
    weak = np.convolve(weak, np.ones(2 * near + 1), "same") > 0.5
    edges = np.flatnonzero(np.diff(weak.astype(int)))
    for first, last in zip(edges[::2], edges[1::2] + 1) if not weak[0] else ():
        if first < near or last + near >= len(phase):
            continue
        before = (phase[first] - phase[first - near]) / near
        after = (phase[last + near] - phase[last]) / near
        wanted = phase[first] + (before + after) / 2 * (last - first)
        phase[last:] += 2 * np.pi * np.round((wanted - phase[last]) / (2 * np.pi))
        phase[first : last + 1] = np.linspace(phase[first], phase[last], last - first + 1)
    return phase


def steady_part(z, band_rate):
    """The stretch from the tone's first to its last moment, its edges left out; dropouts inside stay in."""
    size = np.abs(z)
    loud = np.flatnonzero(size > 0.5 * np.percentile(size, 90))
    edge = min(int(EDGE_S * band_rate), len(z) // 10)
    return slice(loud[0] + edge, loud[-1] + 1 - edge)


def flutter(deviation, band_rate, lines):
    """Deviation (percent) to every flutter figure but the quasi-peak ones."""
    deviation = deviation - deviation.mean()
    count = len(deviation)
    f = fft.rfftfreq(count, 1 / band_rate)
    spectrum = fft.rfft(deviation)
    settle = min(int(SETTLE_S * band_rate), count // 8)

    def through(response):
        return fft.irfft(spectrum * response, count)[settle : count - settle]

    def figures(x):
        return {"rms_percent": rms(x), "two_sigma_percent": float(np.percentile(np.abs(x), 95))}

    # 0.2 to 200 Hz: the magnitude of a third-order high-pass and an eighth-order low-pass, both Butterworth.
    # (Written so that zero frequency needs no division.)
    high_pass = (f / 0.2) ** 3 / np.sqrt(1 + (f / 0.2) ** 6)
    band = high_pass / np.sqrt(1 + (f / 200) ** 16)
    return {
        "status": "ok",
        "weighted": figures(through(gain(f))),
        "unweighted": figures(through(band)),
        "bands": {
            "wow_rms_percent": rms(through((f >= 0.5) & (f < 6))),
            "flutter_rms_percent": rms(through((f >= 6) & (f <= 200))),
        },
        "components": components(deviation, band_rate, lines) if lines else [],
    }


def rms(x):
    return float(np.sqrt(np.mean(np.square(x))))


def components(deviation, band_rate, most):
    """Strongest lines of the deviation, strongest first: peaks of a windowed spectrum, refined one after the other
    and then together by least squares (rates by a general solver, sizes linear within it)."""
    # Decimated by cutting its spectrum: lines above 250 Hz are not looked for.
    count = min(len(deviation), 2 * int(250 / band_rate * len(deviation)))
    x = fft.irfft(fft.rfft(deviation)[: count // 2 + 1], count) * (count / len(deviation))
    rate = band_rate * count / len(deviation)
    cut = min(int(0.5 * rate), count // 10)
    x = x[cut : count - cut]
    t = (np.arange(len(x)) - len(x) / 2) / rate
    window = signal.windows.hann(len(x))
    padded = fft.next_fast_len(4 * len(x))
    rates = []
    residue = x.copy()
    for _ in range(most):
        size = np.abs(fft.rfft(residue * window, padded))
        f = fft.rfftfreq(padded, 1 / rate)
        size[f < 0.3] = 0
        rates = fit_lines(x, t, window, [*rates, f[np.argmax(size)]])[0]
        residue = x - lines_at(rates, t) @ linear(x, t, window, rates)
    rates, sizes = fit_lines(x, t, window, rates)
    order = np.argsort(-sizes)
    return [{"rate_hz": float(rates[k]), "peak_percent": float(sizes[k])} for k in order]


def lines_at(rates, t):
    angle = 2 * np.pi * np.outer(t, rates)
    return np.hstack([np.cos(angle), np.sin(angle)])


def linear(x, t, window, rates):
    basis = lines_at(rates, t)
    return np.linalg.solve((basis.T * window) @ basis, (basis.T * window) @ x)


def fit_lines(x, t, window, rates):
    """Rates moved within half a resolution so that what is left of `x` is least."""
    reach = 1.0 / (t[-1] - t[0])
    root = np.sqrt(window)

    def left(r):
        basis = lines_at(r, t) * root[:, None]
        normal = basis.T @ basis + 1e-9 * len(t) * np.eye(2 * len(r))
        return root * x - basis @ np.linalg.solve(normal, basis.T @ (root * x))

    start = np.asarray(rates, float)
    bounds = (np.maximum(start - reach, 0.05), start + reach)
    found = optimize.least_squares(left, start, bounds=bounds, x_scale=reach, xtol=1e-6, ftol=1e-8, max_nfev=8).x
    c = linear(x, t, window, found)
    return list(found), np.hypot(c[: len(found)], c[len(found) :])


def tone_phase(z, tone_hz):
    """Right behind left is positive: left times the conjugate of right turns by +2 pi f delay."""
    degrees = np.degrees(np.angle(np.sum(z[0] * np.conj(z[1]))))
    return {"status": "ok", "degrees": float(degrees), "delay_us": float(degrees / 360 / tone_hz * 1e6)}


def noise_delay(samples, rate_hz, segment=16384):
    """Delay of broadband sound: a line through zero under the phase of the averaged cross spectrum, each frequency
    weighted by what its coherence says of its phase. The whole samples come from the cross-correlation."""
    left, right = samples.T
    if not (np.any(left) and np.any(right)) or len(left) < 2 * segment:
        return {"status": "one channel only", "delay_us": None}
    count = fft.next_fast_len(len(left))
    cross = fft.irfft(np.conj(fft.rfft(left, count)) * fft.rfft(right, count), count)
    whole = int(np.argmax(np.abs(cross)))
    whole = whole - count if whole > count // 2 else whole
    right = np.roll(right, -whole)
    f, across = signal.csd(left, right, rate_hz, nperseg=segment)
    coherence = signal.coherence(left, right, rate_hz, nperseg=segment)[1]
    use = (f > 50) & (f < 0.4 * rate_hz)
    weight = np.where(use, coherence / np.maximum(1 - coherence, 1e-6), 0.0)
    slope = 0.0
    for _ in range(4):  # the phase left over is small after the first pass, so it does not wrap
        angle = np.angle(across * np.exp(1j * slope * f))
        slope -= np.sum(weight * f * angle) / np.sum(weight * f * f)
    delay = whole / rate_hz + slope / (2 * np.pi)
    return {"status": "ok", "delay_us": float(delay * 1e6)}


def level(samples):
    power = np.mean(samples**2, axis=0)
    names = ("left", "right")[: samples.shape[1]]
    result = {"status": "ok" if power.max() > 1e-12 else "no signal"}
    for name, p in zip(names, power):
        result[name] = {"rms_dbfs": float(10 * np.log10(2 * p)) if p > 0 else None}
    return result


def clipped(samples):
    """Whether tops are flat: three equal samples in a row, again and again, at the largest value."""
    for x in samples.T:
        top = np.max(np.abs(x))
        if top > 0:
            at_top = np.abs(x) > 0.9999 * top
            if np.sum(at_top[:-2] & at_top[1:-1] & at_top[2:]) > 20:
                return True
    return False


def main():
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("take")
    parser.add_argument("--tone", type=float)
    parser.add_argument("--lines", type=int, default=6)
    options = parser.parse_args()
    print(json.dumps(measure(options.take, options.tone, options.lines), indent=2))


if __name__ == "__main__":
    main()
