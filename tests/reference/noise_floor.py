"""What white noise beside a tone makes of wow and flutter, independently of the program: the floor of its readings.

Two ways: the integral of the noise's density through the weighting table and the unweighted band, and a simulated
tone in noise, demodulated by the analytic signal of the whole take. `tests/standards/floors.rs` holds the program (and
its own integral) against the first.

    python noise_floor.py [--snr DB] [--tone HZ] [--rate HZ] [--seconds N]

The density: noise of variance s^2 over half the sample rate has in quadrature to the tone (amplitude A) a part that
turns its phase; with eta = A^2 / 2 s^2 that is 2 / (eta rate) rad^2/Hz, one-sided, at every rate of flutter. The
frequency is the phase's rate of change: r^2 times as much in Hz^2/Hz (the noise of FM, rising with the rate; S. O.
Rice, Bell System Technical Journal 27, 1948; from memory).
"""

import argparse

import numpy as np
from scipy import fft, integrate

from weighting import gain

# The unweighted band, and the reach of the weighting table, Hz.
LOW_HZ, HIGH_HZ = 0.2, 200.0


def integral(snr_db, tone_hz, rate_hz):
    """rms deviation in percent, weighted and unweighted, of one channel."""
    eta = 10 ** (snr_db / 10)
    scale = 100 / tone_hz * np.sqrt(2 / (eta * rate_hz))

    def rms(response):
        power = integrate.quad(lambda r: (r * response(r)) ** 2, LOW_HZ, HIGH_HZ, limit=500, epsrel=1e-6)[0]
        return float(scale * np.sqrt(power))

    return rms(lambda r: float(gain(r))), rms(lambda r: 1.0)


def simulation(snr_db, tone_hz, rate_hz, seconds, seed=1):
    """The same of a tone in noise, from its samples: edges of the band are brick walls in the spectrum."""
    count = int(seconds * rate_hz)
    random = np.random.default_rng(seed)
    amplitude = 0.4
    sigma = amplitude / np.sqrt(2 * 10 ** (snr_db / 10))
    t = np.arange(count) / rate_hz
    spectrum = fft.fft(amplitude * np.sin(2 * np.pi * tone_hz * t) + sigma * random.standard_normal(count))
    f = fft.fftfreq(count, 1 / rate_hz)
    spectrum[np.abs(f - tone_hz) > 1000] = 0
    phase = np.unwrap(np.angle(fft.ifft(spectrum) * np.exp(-2j * np.pi * tone_hz * t)))
    deviation = np.gradient(phase) * rate_hz / (2 * np.pi) / tone_hz * 100
    r = fft.rfftfreq(count, 1 / rate_hz)
    bins = fft.rfft(deviation) * ((r >= LOW_HZ) & (r <= HIGH_HZ))
    inner = slice(count // 20, -count // 20)
    figures = [fft.irfft(bins * response, count)[inner] for response in (gain(r), np.ones_like(r))]
    return tuple(float(np.sqrt(np.mean(x**2))) for x in figures)


def main():
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--snr", type=float, default=40.0)
    parser.add_argument("--tone", type=float, default=3150.0)
    parser.add_argument("--rate", type=float, default=48000.0)
    parser.add_argument("--seconds", type=float, default=60.0)
    o = parser.parse_args()
    print(f"{o.tone:g} Hz, {o.snr:g} dB over half of {o.rate:g} Hz, one channel; rms, percent")
    for name, figures in (
        ("integral", integral(o.snr, o.tone, o.rate)),
        ("simulation", simulation(o.snr, o.tone, o.rate, o.seconds)),
    ):
        print(f"{name:12} weighted {figures[0]:.4e}  unweighted {figures[1]:.4e}")


if __name__ == "__main__":
    main()
