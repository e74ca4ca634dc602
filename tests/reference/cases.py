"""The takes and what must be read on each. The bars are those of the project's 'must show' table; where a check has
a bar of its own, the reason stands beside it. Every seed is fixed: the same takes on every machine."""

import math

import numpy as np

from noise_floor import integral
from takes import Dropout, Line, Motion, Pulses, Take, Tone, pink_noise, programme, random_wow, silence, stereo
from weighting import gain

SPEED_BAR = 0.002  # percent
CASES = {}


def case(name, *arguments):
    """Registers a function of a bench (and of `arguments`) under a name."""

    def register(function):
        if name in CASES:
            raise ValueError(f"two cases named {name}")
        CASES[name] = lambda bench: function(bench, *arguments)
        return function

    return register


def each(name, parameters):
    """Registers one function for many parameters; `name` is filled in from them."""

    def register(function):
        for values in parameters:
            case(name.format(*values), *values)(function)
        return function

    return register


def rms_of(lines, weighted):
    return math.sqrt(sum((line.peak_percent * (float(gain(line.rate_hz)) if weighted else 1)) ** 2 / 2 for line in lines))


def near_rms(bench, measured, lines):
    """2 % of the reading or 0.0005 %."""
    bench.relative(measured, "flutter.weighted.rms_percent", rms_of(lines, True), 2, 0.0005)
    bench.relative(measured, "flutter.unweighted.rms_percent", rms_of(lines, False), 2, 0.0005)


# ---------------------------------------------------------------------------------------------------- speed

RATES = (44100, 48000, 88200, 96000, 192000)
DEVIATIONS = (-3.0, 2.4, -1.1, 0.35, -0.02, 3.0, 0.0, -2.2, 1.6, -0.6, 0.9, -3.0, 3.0, -0.25, 1.9)
ORDINARY = (Line(0.8, 0.05, 0.4), Line(4.2, 0.1, 1.9), Line(9.1, 0.06, 3.0), Line(31.0, 0.03, 5.0))


@each(
    "speed/{0:g}_at_{1}",
    [(f, r, DEVIATIONS[5 * i + k], 5 * i + k) for i, f in enumerate((3000.0, 3150.0, 10000.0)) for k, r in enumerate(RATES)],
)
def speed(bench, tone, rate, deviation, seed):
    motion = Motion(deviation, ORDINARY)
    take = Tone(tone, 30, rate, motion, snr_db=45, delay_us=(-1) ** seed * 7.0, balance_db=0.8, seed=seed).make()
    m = bench.measure(take, tone)
    bench.near(m, "speed.deviation_percent", deviation, SPEED_BAR)
    bench.relative(m, "tone.left_hz", tone * (1 + deviation / 100), SPEED_BAR)
    bench.relative(m, "tone.right_hz", tone * (1 + deviation / 100), SPEED_BAR)
    near_rms(bench, m, ORDINARY)


@each("speed/tone_not_given_{0:g}", [(3000.0, 1.4), (3150.0, -1.2)])
def tone_not_given(bench, tone, deviation):
    take = Tone(tone, 20, motion=Motion(deviation, ORDINARY), snr_db=50).make()
    m = bench.measure(take)
    bench.near(m, "speed.reference_hz", tone, 0)
    bench.near(m, "speed.deviation_percent", deviation, SPEED_BAR)
    bench.notice(m, "tone_assumed")


@case("speed/trend")
def trend(bench):
    take = Tone(3150, 60, motion=Motion(0.2, ORDINARY, trend_percent_per_minute=0.3), snr_db=50).make()
    m = bench.measure(take, 3150)
    # The mean is that of the middle of what is read; settling of up to 2 s moves the middle by 1 s, 0.005 %.
    bench.near(m, "speed.deviation_percent", 0.2 + 0.15, 0.012)
    bench.near(m, "speed.trend_percent_per_minute", 0.3, 0.02)


@case("speed/slow_wow")
def slow_wow(bench):
    lines = (Line(0.63, 0.5, 1.0),)  # a rate of the table: below 0.8 Hz it is too steep to interpolate in
    take = Tone(3150, 60, motion=Motion(-0.4, lines), snr_db=55).make()
    m = bench.measure(take, 3150)
    # A mean over a stretch that is no whole number of turns keeps up to 0.5 / (pi * 0.63 * 58 s) of it.
    bench.near(m, "speed.deviation_percent", -0.4, 0.005)
    near_rms(bench, m, lines)


@each("speed/odd_rate_{0}", [(8000, 30), (22050, 30), (32000, 30), (384000, 12)])
def odd_rate(bench, rate, seconds):
    lines = (Line(4.0, 0.12, 0.2), Line(16.0, 0.05, 1.0))
    take = Tone(3150, seconds, rate, Motion(0.7, lines), snr_db=50, delay_us=15.0).make()
    m = bench.measure(take, 3150)
    bench.near(m, "speed.deviation_percent", 0.7, SPEED_BAR)
    near_rms(bench, m, lines)
    bench.relative(m, "phase.delay_us", 15.0, 0.4, 0.25)


@each("speed/file_{0}_{1}", [("PCM_16", "wav"), ("PCM_24", "wav"), ("PCM_24", "flac")])
def file_kind(bench, subtype, ending):
    lines = (Line(4.0, 0.1), Line(11.0, 0.04, 2.0))
    take = Tone(3000, 30, 44100, Motion(-0.9, lines), snr_db=55, level_dbfs=-18, subtype=subtype).make()
    m = bench.measure(take, 3000, ending=ending)
    bench.near(m, "speed.deviation_percent", -0.9, SPEED_BAR)
    near_rms(bench, m, lines)
    bench.near(m, "level.left.rms_dbfs", -18, 0.05)


# -------------------------------------------------------------------------------------------------- flutter

SLOTS = ((0.6, 1.3), (1.7, 3.0), (3.6, 6.2), (8.0, 14.0), (18.0, 35.0), (41.0, 60.0), (70.0, 100.0))


@each(
    "flutter/several_lines_{0}",
    [(1, 3150.0, 48000), (2, 3000.0, 44100), (3, 3150.0, 96000), (4, 10000.0, 48000), (5, 3150.0, 192000), (6, 3000.0, 88200)],
)
def several_lines(bench, seed, tone, rate):
    rng = np.random.default_rng(100 + seed)
    chosen = [slot for slot in SLOTS if seed <= 2 or rng.random() < 0.7]
    lines = tuple(Line(rng.uniform(*s), rng.uniform(0.02, 0.15), rng.uniform(0, 6.28)) for s in chosen)
    take = Tone(tone, 40, rate, Motion(rng.uniform(-1, 1), lines), snr_db=60, seed=seed).make()
    m = bench.measure(take, tone)
    near_rms(bench, m, lines)
    bench.relative(m, "flutter.weighted.two_sigma_percent", None, 3)
    bench.relative(m, "flutter.unweighted.two_sigma_percent", None, 3)


@each("flutter/steady_{0:g}_Hz", [(f,) for f in (1, 2, 4, 6.3, 10, 25, 50)])
def steady_line(bench, rate):
    lines = (Line(float(rate), 0.1, 0.7),)
    take = Tone(3150, 40, motion=Motion(0.3, lines), snr_db=65).make()
    m = bench.measure(take, 3150)
    for kind, size in (("weighted", 0.1 * float(gain(rate))), ("unweighted", 0.1)):
        # A 4 Hz sine must read true; nobody asks more than 1 % of that.
        bench.relative(m, f"flutter.{kind}.quasi_peak_percent", size, 1 if rate == 4 else 5)
        # 95 % of a sine's time is below sin(0.475 pi).
        bench.relative(m, f"flutter.{kind}.two_sigma_percent", size * math.sin(0.475 * math.pi), 3)
    near_rms(bench, m, lines)


@case("flutter/bands")
def bands(bench):
    wow = (Line(1.3, 0.12), Line(3.1, 0.05, 1.0))
    fast = (Line(9.0, 0.04, 2.0), Line(28.0, 0.06), Line(80.0, 0.03))
    take = Tone(3150, 40, motion=Motion(0.1, wow + fast), snr_db=65).make()
    m = bench.measure(take, 3150)
    # The edges of the bands are the program's own choice: 3 % with every line at least half an octave inside.
    bench.relative(m, "flutter.bands.wow_rms_percent", rms_of(wow, False), 3)
    bench.relative(m, "flutter.bands.flutter_rms_percent", rms_of(fast, False), 3)


@case("flutter/scrape")
def scrape(bench):
    fast = (Line(480.0, 0.05), Line(890.0, 0.04, 1.0))
    take = Tone(10000, 30, 96000, Motion(0.1, (Line(6.0, 0.1), *fast)), snr_db=75).make()
    m = bench.measure(take, 10000)
    bench.relative(m, "flutter.bands.scrape_rms_percent", rms_of(fast, False), 5)
    bench.relative(m, "flutter.unweighted.rms_percent", rms_of((Line(6.0, 0.1),), False), 2)


# What is read of a tone in noise is what the noise makes (noise_floor.py), and no more than a fifth above it.
OVER_NOISE = 1.2


@each("flutter/floor_at_{0:g}_dB", [(40,), (50,), (60,)])
def floor(bench, snr_db):
    m = bench.measure(Tone(3150, 60, snr_db=snr_db).make(), 3150)
    weighted, unweighted = (rms / math.sqrt(2) for rms in integral(snr_db, 3150, 48000))  # both channels: half the power
    bench.below(m, "flutter.weighted.rms_percent", OVER_NOISE * weighted)
    bench.below(m, "flutter.unweighted.rms_percent", OVER_NOISE * unweighted)
    bench.near(m, "speed.deviation_percent", 0.0, SPEED_BAR)


@case("flutter/floor_of_one_channel")
def floor_of_one_channel(bench):
    m = bench.measure(Tone(3150, 60, snr_db=60).make().mono(), 3150)
    bench.below(m, "flutter.weighted.rms_percent", OVER_NOISE * integral(60, 3150, 48000)[0])


def expect_lines(bench, measured, lines):
    """Each line is among the components: the nearest one is within 0.05 Hz and its size within 4 %."""

    def nearest(tree, line):
        found = ((tree or {}).get("flutter") or {}).get("components") or []
        return min(found, key=lambda c: abs(c["rate_hz"] - line.rate_hz), default={})

    for number, line in enumerate(lines, 1):
        for key, truth, bar in (("rate_hz", line.rate_hz, 0.05), ("peak_percent", line.peak_percent, 0.04 * line.peak_percent)):
            values = [nearest(tree, line).get(key) for tree in (measured.found, measured.reference)]
            bench.compare(f"line {number} {key}", truth, values[1], values[0], bar, measured.problem)


@each("components/random_{0}", [(1,), (2,), (3,), (4,)])
def random_lines(bench, seed):
    rng = np.random.default_rng(300 + seed)
    slots = rng.permutation(len(SLOTS))[:3]
    lines = tuple(Line(rng.uniform(*SLOTS[k]), rng.uniform(0.02, 0.15), rng.uniform(0, 6.28)) for k in slots)
    tone, rate = ((3150.0, 48000), (3000.0, 44100), (10000.0, 96000), (3150.0, 96000))[seed - 1]
    take = Tone(tone, 60, rate, Motion(rng.uniform(-1, 1), lines), snr_db=60, seed=seed).make()
    expect_lines(bench, bench.measure(take, tone, lines=4), lines)


@each("components/close_pair_{0:g}_Hz", [(1.9,), (6.1,), (24.7,)])
def close_pair(bench, rate):
    lines = (Line(rate, 0.08, 0.3), Line(rate + 0.4, 0.05, 2.0), Line(13.3, 0.06, 1.0))
    take = Tone(3150, 60, motion=Motion(0.2, lines), snr_db=60).make()
    expect_lines(bench, bench.measure(take, 3150, lines=4), lines)


@case("components/with_random_wow")
def lines_in_random_wow(bench):
    lines = (Line(6.06, 0.08, 0.3), Line(9.7, 0.05, 2.0), Line(1.21, 0.12, 1.0))
    wander = random_wow(0.03, 2.0, 5.0, 5)
    take = Tone(3150, 60, motion=Motion(-0.3, lines + wander), snr_db=55).make()
    m = bench.measure(take, 3150, lines=10)
    expect_lines(bench, m, lines)
    near_rms(bench, m, lines + wander)


@case("components/pair_with_random_wow_around")
def pair_in_random_wow(bench):
    # The wow's own lines near 6.06 Hz disturb its size by about 0.006 * sqrt(2 / 60) * a few = 1 % at most.
    lines = (Line(6.06, 0.12, 0.3), Line(6.46, 0.09, 2.0), Line(25.1, 0.07, 1.0))
    take = Tone(3150, 60, motion=Motion(0.3, lines + random_wow(0.006, 0.4, 30.0, 6)), snr_db=55).make()
    expect_lines(bench, bench.measure(take, 3150, lines=5), lines)


@case("flutter/pulses")
def pulses(bench):
    """Unidirectional pulses of speed, one a second, made on the tape: before the weighting. The maximum of the
    pointer, relative to the reading of a 4 Hz sine of the same peak-to-peak (IEC 60386 / DIN 45507 pulse table)."""
    sine = bench.measure(Tone(3150, 30, motion=Motion(0, (Line(4.0, 0.2),)), snr_db=70).make(), 3150, reference=False)
    table = ((10, 21, 3), (30, 62, 6), (60, 90, 6), (100, 100, 4))
    for width_ms, percent, bar in table:
        take = Tone(3150, 30, motion=Motion(0, pulses=Pulses(width_ms / 1000, 0.4)), snr_db=70).make()
        m = bench.measure(take, 3150, reference=False)
        for kind in ("weighted", "unweighted"):
            values = [((t.found or {}).get("flutter") or {}).get(kind) or {} for t in (m, sine)]
            top, unit = values[0].get("quasi_peak_max_percent"), values[1].get("quasi_peak_percent")
            reading = 100 * top / unit if top is not None and unit else None
            bench.compare(f"{kind}, {width_ms} ms pulse, %", percent, None, reading, bar, m.problem or sine.problem)


# ----------------------------------------------------------------------------------------- phase and balance

DELAYS = (
    (315, 100.0), (315, -250.0), (400, 33.3), (1000, -120.0), (1000, 47.5), (3150, 12.3), (3150, -88.0),
    (6300, -5.5), (6300, 60.0), (10000, 20.0), (10000, -31.0), (10000, 0.0),
)


def near_delay(bench, measured, tone, delay, bar):
    bench.near(measured, "phase.delay_us", delay, bar)
    bench.near(measured, "phase.degrees", 360e-6 * tone * delay, 360e-6 * tone * bar)


@each("phase/{0}_Hz_{1:+g}_us", DELAYS)
def delay(bench, tone, delay_us):
    lines = (Line(4.1, 0.05), Line(1.1, 0.05))
    rate = 96000 if delay_us in (12.3, 20.0) else 48000
    take = Tone(tone, 20, rate, Motion(0.0, lines), snr_db=60, delay_us=delay_us, balance_db=-0.7, seed=tone).make()
    near_delay(bench, bench.measure(take, tone), tone, delay_us, 0.02 + 0.004 * abs(delay_us))


@each("phase/hum_and_third_harmonic_{0}_Hz", [(315, 60.0), (1000, -45.0), (3150, 25.0), (6300, -30.0), (10000, 8.0)])
def disturbed_delay(bench, tone, delay_us):
    take = Tone(tone, 20, snr_db=60, delay_us=delay_us, hum_db=-35, third_percent=3.0, seed=tone).make()
    near_delay(bench, bench.measure(take, tone), tone, delay_us, 0.25)


@case("phase/azimuth")
def azimuth(bench):
    # tan(azimuth) = tape speed * delay / track spacing; the cassette's figures.
    take = Tone(10000, 20, snr_db=60, delay_us=16.5).make()
    m = bench.measure(take, 10000, arguments=("--tape-format", "cassette-stereo"))
    arc_minutes = math.degrees(math.atan(0.047625 * 16.5e-6 / 0.9e-3)) * 60
    bench.near(m, "phase.azimuth_arcmin", arc_minutes, arc_minutes * 0.086 / 16.5)


@case("phase/tone_not_given")
def phase_without_tone(bench):
    take = Tone(6300, 20, snr_db=60, delay_us=-14.0, balance_db=0.5, motion=Motion(0.4)).make()
    m = bench.measure(take)
    near_delay(bench, m, 6300 * 1.004, -14.0, 0.02 + 0.004 * 14)
    bench.near(m, "level.balance_db", 0.5, 0.05)
    bench.no_number(m, "speed", "speed.deviation_percent")
    bench.status(m, "speed", "not the expected tone")


@each("phase/pink_noise_{0:+g}_us_at_{1}", [(37.3, 48000), (-12.4, 44100), (0.0, 48000), (-61.0, 96000)])
def noise_delay(bench, delay_us, rate):
    take = stereo(pink_noise(30 * rate, rate, 11), rate, delay_us, -20, 12)
    m = bench.measure(take)
    bench.near(m, "phase.delay_us", delay_us, 0.3)
    bench.no_speed_nor_flutter(m)


@case("phase/made_programme")
def programme_delay(bench):
    take = stereo(programme(30 * 48000, 48000, 21), 48000, 23.7, -40, 22)
    m = bench.measure(take)
    bench.near(m, "phase.delay_us", 23.7, 0.3)
    bench.no_speed_nor_flutter(m)


@each("level/balance_{0:+g}_dB", [(-3.7,), (0.4,), (12.0,)])
def balance(bench, balance_db):
    take = Tone(1000, 15, snr_db=55, balance_db=balance_db, delay_us=10).make()
    m = bench.measure(take, 1000)
    bench.near(m, "level.balance_db", balance_db, 0.05)
    # Half of the 0.05 dB that a balance may be off.
    bench.near(m, "level.left.rms_dbfs", -10.0, 0.025)
    bench.near(m, "level.right.rms_dbfs", -10.0 - balance_db, 0.025)
    bench.near(m, "level.left.peak_dbfs", -10.0, 0.1, reference=False)


# ------------------------------------------------------------------------------------------------- dropouts


@each(
    "dropouts/{0}_at_{1:g}_Hz",
    [(kind, tone) for tone in (1000.0, 3150.0, 10000.0) for kind in ("both", "left", "right", "near", "none")],
)
def dropouts(bench, kind, tone):
    sizes = ((10.0, 18.0), (25.0, 24.0), (50.0, 30.0))
    starts = {"near": (8.0, 8.3, 8.65), "none": ()}.get(kind, (6.2, 11.5, 16.8))
    channels = {"left": (0,), "right": (1,)}.get(kind, (0, 1))
    three = tuple(Dropout(at, *size, channels) for at, size in zip(starts, sizes))
    lines = (Line(0.9, 0.1), Line(6.1, 0.1))
    take = Tone(tone, 22, motion=Motion(0.2, lines), snr_db=45, dropouts=three, delay_us=9.0).make()
    m = bench.measure(take, tone)
    bench.near(m, "level.dropouts", len(three), 0, reference=False)
    bench.near(m, "speed.deviation_percent", 0.2, SPEED_BAR)


# ------------------------------------------------------------------------------- what is not a tone, or a bad one


@case("status/silence")
def no_sound(bench):
    m = bench.measure(silence(20))
    bench.no_speed_nor_flutter(m)
    bench.no_number(m, "phase", "phase.delay_us")
    bench.exits(m, 1)


@each("status/real_music_{0}", [(0,), (1,), (2,), (3,)])
def real_music(bench, index):
    if index >= len(bench.music):
        bench.skip("no music: its package could not be had")
        return
    m = bench.measure(bench.music[index], reference=False)
    bench.no_speed_nor_flutter(m)


@each("phase/real_music_{0:+g}_us", [(18.2,), (-44.0,)])
def real_music_delay(bench, delay_us):
    music = bench.read_music(1 if delay_us < 0 else 0, 30)
    if music is None:
        bench.skip("no music: its package could not be had")
        return
    samples, rate = music
    m = bench.measure(stereo(samples.mean(axis=1), rate, delay_us, -50, 31))
    bench.near(m, "phase.delay_us", delay_us, 0.3)
    bench.no_speed_nor_flutter(m)


CLIPPED = ((0.5, 1.0), (1.0, 1.0), (3.0, 1.0), (6.0, 1.0), (12.0, 1.0), (1.0, 0.5), (3.0, 0.5), (9.0, 0.25))


@each("status/clipped_{0:g}_dB_at_{1:g}", CLIPPED)
def clipped(bench, over_db, ceiling):
    take = Tone(3150, 15, motion=Motion(0.3, (Line(4.0, 0.1),)), snr_db=60, subtype="PCM_24").make()
    m = bench.measure(take.clipped(over_db, ceiling), 3150)
    bench.notice(m, "clipping")


@each(
    "status/not_clipped_{4}",
    [
        (3150.0, 48000, "PCM_16", -0.05, "full_scale"),
        (3000.0, 48000, "PCM_24", -3.0, "whole_samples_a_cycle"),  # the same 16 samples for ever
        (315.0, 96000, "PCM_16", -40.0, "coarse_steps"),  # some ten equal samples on each top, from the steps alone
    ],
)
def not_clipped(bench, tone, rate, subtype, level_dbfs, _):
    take = Tone(tone, 15, rate, level_dbfs=level_dbfs, subtype=subtype).make()
    bench.notice(bench.measure(take, tone), "clipping", wanted=False)


@case("status/mono")
def mono(bench):
    lines = (Line(4.0, 0.1),)
    m = bench.measure(Tone(3150, 30, motion=Motion(-0.5, lines), snr_db=50).make().mono(), 3150)
    bench.near(m, "speed.deviation_percent", -0.5, SPEED_BAR)
    near_rms(bench, m, lines)
    bench.no_number(m, "phase", "phase.delay_us", "phase.degrees")
    bench.holds(m, "no right channel", lambda r: r["tone"]["right_hz"] is None, lambda r: r["tone"]["right_hz"])
    bench.exits(m, 0)


@each("status/dead_right_{0}", [("zeros",), ("hiss",)])
def dead_right(bench, kind):
    lines = (Line(4.0, 0.1),)
    take = Tone(3150, 30, motion=Motion(0.6, lines), snr_db=50).make()
    hiss = 10 ** (-75 / 20) * np.random.default_rng(4).standard_normal(len(take.samples))
    right = hiss if kind == "hiss" else 0.0 * hiss
    m = bench.measure(take.with_samples(np.column_stack([take.samples[:, 0], right])), 3150)
    bench.near(m, "speed.deviation_percent", 0.6, SPEED_BAR)
    near_rms(bench, m, lines)
    bench.no_number(m, "phase", "phase.delay_us")


@case("status/bad_samples")
def bad_samples(bench):
    lines = (Line(4.0, 0.1),)
    take = Tone(3150, 30, motion=Motion(0.5, lines), snr_db=50).make()
    places = np.random.default_rng(8).integers(5 * take.rate_hz, len(take.samples), 12)
    take.samples[places, 0] = np.nan
    take.samples[places[:5] + 7, 1] = np.inf
    take.samples[places[5:] + 3, 1] = -np.inf
    m = bench.measure(take, 3150, reference=False)
    bench.exits(m, 0, 1)
    bench.notice(m, "bad_samples")
    # Windows with holes may be left out; what is given must still be right.
    bench.near(m, "speed.deviation_percent", 0.5, 2 * SPEED_BAR, reference=False)
    bench.relative(m, "flutter.weighted.rms_percent", rms_of(lines, True), 4, reference=False)


@case("status/all_bad_samples")
def all_bad(bench):
    m = bench.measure(Take(np.full((48000 * 5, 2), np.nan), 48000), 3150, reference=False)
    bench.exits(m, 1)
    bench.no_speed_nor_flutter(m)


@each("status/short_{0}_frames", [(1,), (480,), (4800,), (48000,)])
def short(bench, frames):
    take = Tone(3150, 2, motion=Motion(0.5), snr_db=60).make()
    m = bench.measure(take.with_samples(take.samples[:frames]), 3150, reference=False)
    bench.exits(m, 0, 1)
    # A number in so little time must still be a right one; half a percent is what 0.1 s allows an honest reading.
    bench.holds(
        m,
        "no number or a right one",
        lambda r: (v := r["speed"]["deviation_percent"]) is None and r["speed"]["status"] != "ok" or v is not None and abs(v - 0.5) < 0.05,
        lambda r: f"'{r['speed']['status']}' {r['speed']['deviation_percent']}",
    )
    bench.holds(m, "flutter not settled", lambda r: frames == 48000 or r["flutter"]["status"] != "ok", lambda r: r["flutter"]["status"])


@case("status/lead_in_and_out")
def lead_in_and_out(bench):
    lines = (Line(4.0, 0.1), Line(1.0, 0.06, 1.0))
    take = Tone(3150, 30, motion=Motion(-0.8, lines), snr_db=50, delay_us=11.0).make().padded(2, 2)
    m = bench.measure(take, 3150)
    bench.near(m, "speed.deviation_percent", -0.8, SPEED_BAR)
    near_rms(bench, m, lines)
    bench.near(m, "phase.delay_us", 11.0, 0.02 + 0.004 * 11)
    bench.near(m, "level.balance_db", 0.0, 0.05)
    bench.near(m, "level.dropouts", 0, 0, reference=False)
    bench.exits(m, 0)


@each("status/noisy_lead_in_at_{0}", [(48000,), (96000,)])
def noisy_lead_in(bench, rate):
    """Hiss before and after the tone, as a tape has it."""
    lines = (Line(4.0, 0.1),)
    take = Tone(3150, 30, rate, motion=Motion(0.8, lines), snr_db=50).make().padded(2.37, 1.61)
    take.samples[:] += 10 ** (-60 / 20) * np.random.default_rng(6).standard_normal(take.samples.shape)
    m = bench.measure(take, 3150)
    bench.near(m, "speed.deviation_percent", 0.8, SPEED_BAR)
    near_rms(bench, m, lines)


@case("status/low_level")
def low_level(bench):
    lines = (Line(4.0, 0.1),)
    take = Tone(3150, 30, motion=Motion(0.25, lines), level_dbfs=-60, snr_db=45, subtype="PCM_24").make()
    m = bench.measure(take, 3150)
    bench.near(m, "speed.deviation_percent", 0.25, SPEED_BAR)
    near_rms(bench, m, lines)
    bench.near(m, "level.left.rms_dbfs", -60, 0.05)


@case("status/other_tone")
def other_tone(bench):
    m = bench.measure(Tone(1000, 20, snr_db=60, delay_us=20).make())
    bench.no_number(m, "speed", "speed.deviation_percent")
    bench.status(m, "speed", "not the expected tone")
    bench.near(m, "phase.delay_us", 20.0, 0.1)
    bench.status(m, "level")
    bench.exits(m, 0)
