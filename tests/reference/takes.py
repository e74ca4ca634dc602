"""Test takes made in 64-bit floating point from formulas, so that their truth is known exactly.

A tape that runs at 1 + deviation(t) times its nominal speed has moved x(t), the integral of that, at time t. A tone
recorded at f then sounds as sin(2 pi f x(t)); the right channel, later by `delay`, as the same at t - delay.
Flutter lines, random wow (a sum of many lines at random rates), trend and pulses all have a closed integral: nothing
here is filtered, interpolated or numerically integrated.

Signs: deviation positive = fast; delay positive = the right channel arrives later; balance = left minus right.
Levels: a sine whose peaks reach 1.0 is 0 dBFS.
"""

from dataclasses import dataclass, field

import numpy as np
import soundfile

BLOCK = 4096


@dataclass(frozen=True)
class Line:
    """One sinusoid of speed deviation."""

    rate_hz: float
    peak_percent: float
    phase: float = 0.0


@dataclass(frozen=True)
class Pulses:
    """Unidirectional rectangular pulses of speed deviation, one every second, the first at 0.5 s."""

    width_s: float
    height_percent: float


@dataclass(frozen=True)
class Dropout:
    """The level falls by `depth_db` for `length_ms` from edge to edge; the edges are raised cosines."""

    at_s: float
    length_ms: float
    depth_db: float
    channels: tuple = (0, 1)
    edge_ms: float = 2.0


@dataclass(frozen=True)
class Motion:
    """How the tape runs: everything in percent of the nominal speed, as a speed deviation is."""

    deviation_percent: float = 0.0
    lines: tuple = ()
    trend_percent_per_minute: float = 0.0
    pulses: Pulses | None = None

    def position(self, frames, rate_hz, later_s=0.0):
        """Tape position, in seconds at nominal speed, at the sample times of a signal that arrives `later_s`."""
        t = np.arange(frames) / rate_hz - later_s
        x = t * (1 + self.deviation_percent / 100)
        if self.lines:
            rates = np.array([line.rate_hz for line in self.lines])
            sizes = np.array([line.peak_percent / 100 for line in self.lines]) / (2 * np.pi * rates)
            phases = np.array([line.phase for line in self.lines]) - np.pi / 2
            # The integral of a*sin(wt + p) is (a/w) * sin(wt + p - 90 deg).
            x += sine_sum(rates, sizes, phases, frames, rate_hz, later_s)
        if self.trend_percent_per_minute:
            x += self.trend_percent_per_minute / 100 / 60 * t * t / 2
        if self.pulses:
            past = np.floor(t - 0.5)
            into = np.minimum(t - 0.5 - past, self.pulses.width_s)
            x += self.pulses.height_percent / 100 * (past * self.pulses.width_s + into)
        return x


def sine_sum(rates_hz, sizes, phases, frames, rate_hz, later_s=0.0):
    """Sum of sines on a uniform grid, exact: sin(a + b) split into whole blocks and the place within one."""
    blocks = -(-frames // BLOCK)
    w = 2 * np.pi * np.asarray(rates_hz)
    outer = np.outer(np.arange(blocks) * BLOCK / rate_hz - later_s, w) + phases
    inner = np.outer(w, np.arange(BLOCK) / rate_hz)
    total = (np.sin(outer) * sizes) @ np.cos(inner) + (np.cos(outer) * sizes) @ np.sin(inner)
    return total.ravel()[:frames]


def random_wow(rms_percent, low_hz, high_hz, seed, count=60):
    """Random wow of a given rms: `count` lines at random rates, with random sizes and phases."""
    rng = np.random.default_rng(seed)
    rates = rng.uniform(low_hz, high_hz, count)
    sizes = rng.rayleigh(size=count)
    sizes *= rms_percent / np.sqrt(np.sum(sizes**2) / 2)
    return tuple(Line(f, a, p) for f, a, p in zip(rates, sizes, rng.uniform(0, 2 * np.pi, count)))


@dataclass(frozen=True)
class Take:
    """Samples (frames x channels) and their rate."""

    samples: np.ndarray
    rate_hz: int
    subtype: str = "FLOAT"

    @property
    def seconds(self):
        return len(self.samples) / self.rate_hz

    def write(self, path):
        """Writes a WAV (or FLAC, by the name's ending) file."""
        soundfile.write(path, self.samples, self.rate_hz, subtype=self.subtype)

    def with_samples(self, samples):
        return Take(samples, self.rate_hz, self.subtype)

    def padded(self, before_s, after_s):
        """The take between two stretches of digital silence."""
        pads = [(int(round(before_s * self.rate_hz)), int(round(after_s * self.rate_hz))), (0, 0)]
        return self.with_samples(np.pad(self.samples, pads))

    def clipped(self, over_db, ceiling=1.0):
        """Driven so that its highest peak lies `over_db` above `ceiling`, then cut off there."""
        peak = np.max(np.abs(self.samples))
        return self.with_samples(np.clip(self.samples * (ceiling * 10 ** (over_db / 20) / peak), -ceiling, ceiling))

    def mono(self):
        return self.with_samples(self.samples[:, :1])


@dataclass(frozen=True)
class Tone:
    """A test tone off a tape."""

    tone_hz: float
    seconds: float = 30.0
    rate_hz: int = 48000
    motion: Motion = field(default_factory=Motion)
    level_dbfs: float = -10.0
    balance_db: float = 0.0
    delay_us: float = 0.0
    # Noise in the whole band from 0 to half the sample rate, independent in the channels, relative to each tone.
    snr_db: float | None = None
    # Hum relative to the left tone; its phase differs between the channels.
    hum_db: float | None = None
    hum_hz: float = 50.0
    third_percent: float = 0.0
    dropouts: tuple = ()
    subtype: str = "FLOAT"
    seed: int = 1

    def make(self):
        frames = int(round(self.seconds * self.rate_hz))
        rng = np.random.default_rng(self.seed)
        level = 10 ** (self.level_dbfs / 20)
        peaks = level, level * 10 ** (-self.balance_db / 20)
        samples = np.empty((frames, 2))
        for channel, (peak, later_s) in enumerate(zip(peaks, (0.0, self.delay_us * 1e-6))):
            x = self.motion.position(frames, self.rate_hz, later_s)
            cycles = self.tone_hz * x
            angle = 2 * np.pi * (cycles - np.floor(cycles))
            signal = peak * np.sin(angle)
            if self.third_percent:
                signal += peak * self.third_percent / 100 * np.sin(3 * angle)
            signal *= self._envelope(channel, frames)
            if self.hum_db is not None:
                t = np.arange(frames) / self.rate_hz
                hum = level * 10 ** (self.hum_db / 20)
                signal += hum * np.sin(2 * np.pi * self.hum_hz * t + 0.4 + 1.1 * channel)
            if self.snr_db is not None:
                noise = peak / np.sqrt(2) * 10 ** (-self.snr_db / 20)
                signal += noise * rng.standard_normal(frames, dtype=np.float32)
            samples[:, channel] = signal
        return Take(samples, self.rate_hz, self.subtype)

    def _envelope(self, channel, frames):
        gain = np.ones(frames)
        for dropout in self.dropouts:
            if channel in dropout.channels:
                first = int(round(dropout.at_s * self.rate_hz))
                count = int(round(dropout.length_ms * 1e-3 * self.rate_hz))
                edge = int(round(dropout.edge_ms * 1e-3 * self.rate_hz))
                place = np.minimum(np.arange(count), np.arange(count)[::-1])
                shape = 0.5 - 0.5 * np.cos(np.pi * np.minimum(place / edge, 1.0))
                gain[first : first + count] -= (1 - 10 ** (-dropout.depth_db / 20)) * shape
        return gain


def delayed(x, rate_hz, delay_us):
    """`x` later by a delay that need not be whole samples: a linear phase over its (circular) spectrum."""
    f = np.fft.rfftfreq(len(x), 1 / rate_hz)
    return np.fft.irfft(np.fft.rfft(x) * np.exp(-2j * np.pi * f * delay_us * 1e-6), len(x))


def stereo(x, rate_hz, delay_us, own_noise_db, seed, level_dbfs=-20.0):
    """Left is `x`, right is `x` later; each has noise of its own, `own_noise_db` relative to the common signal."""
    rng = np.random.default_rng(seed)
    x = x * (10 ** (level_dbfs / 20) / np.sqrt(2) / np.std(x))
    pair = np.column_stack([x, delayed(x, rate_hz, delay_us)])
    return Take(pair + np.std(x) * 10 ** (own_noise_db / 20) * rng.standard_normal(pair.shape), rate_hz)


def pink_noise(frames, rate_hz, seed, low_hz=20.0):
    """Pink from `low_hz` to 0.45 of the sample rate."""
    rng = np.random.default_rng(seed)
    f = np.fft.rfftfreq(frames, 1 / rate_hz)
    shape = np.where((f >= low_hz) & (f <= 0.45 * rate_hz), 1 / np.sqrt(np.maximum(f, low_hz)), 0.0)
    return np.fft.irfft(np.fft.rfft(rng.standard_normal(frames)) * shape, frames)


def programme(frames, rate_hz, seed):
    """Something like music: chords of decaying notes with vibrato, and noise bursts for a beat."""
    rng = np.random.default_rng(seed)
    x = np.zeros(frames)
    scale = 110 * 2 ** (np.array([0, 3, 5, 7, 10, 12, 15, 17, 19, 22, 24]) / 12)
    step = int(0.4 * rate_hz)
    for start in range(0, frames - 3 * step, step):
        t = np.arange(3 * step) / rate_hz
        for pitch in rng.choice(scale, 3, replace=False):
            swing = 2 * np.pi * pitch * (t + 0.0004 * np.sin(2 * np.pi * 5.3 * t) / 5.3)
            decay = np.exp(-t / rng.uniform(0.2, 0.6)) * np.minimum(t / 0.01, 1)
            for order in range(1, 9):
                x[start : start + 3 * step] += decay / order**1.2 * np.sin(order * swing + rng.uniform(0, 6.28))
        beat = rng.standard_normal(step) * np.exp(-np.arange(step) / (0.03 * rate_hz))
        x[start : start + step] += 0.8 * beat
    return x


def silence(seconds, rate_hz=48000):
    return Take(np.zeros((int(round(seconds * rate_hz)), 2)), rate_hz)
