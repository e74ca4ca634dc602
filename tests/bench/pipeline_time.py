"""What the pipeline of tests/reference costs on a take, for table.sh: seconds of processor time.

    python pipeline_time.py TAKE TONE_HZ LINES

Prints two numbers, both of the measurement alone (samples in memory already, the interpreter and its packages loaded):
without a search for flutter lines, and with one for LINES of them, as many as the program has found on the take.
Threads should be held to one by OMP_NUM_THREADS and OPENBLAS_NUM_THREADS.
"""

import sys
import time
from pathlib import Path

import soundfile

sys.path.insert(0, str(Path(__file__).resolve().parent.parent / "reference"))
import pipeline  # noqa: E402


def measuring_s(take, tone_hz, lines):
    began = time.process_time()
    readings = pipeline.measure(take, tone_hz, lines)
    used = time.process_time() - began
    if readings["speed"]["status"] != "ok":
        sys.exit(f"the pipeline reads no speed from {take}: {readings['speed']['status']}")
    return used


def main():
    take, tone_hz, lines = sys.argv[1], float(sys.argv[2]), int(sys.argv[3])
    samples, rate_hz = soundfile.read(take, always_2d=True)
    # The pipeline asks its library for the file: it is given what has been read.
    pipeline.soundfile.read = lambda *_, **__: (samples.copy(), rate_hz)
    without = min(measuring_s(take, tone_hz, 0) for _ in range(3))
    print(f"{without:.3f} {measuring_s(take, tone_hz, lines):.3f}")


if __name__ == "__main__":
    main()
