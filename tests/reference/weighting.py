"""The IEC 60386 / DIN 45507 / AES6 wow and flutter weighting: the table, and gains read from it."""

import numpy as np
from scipy.interpolate import PchipInterpolator

# Hz, dB. The 1985 print seen agrees in shape; the figures are from memory (see the project's standards notes).
TABLE = np.array([
    (0.1, -48.0), (0.2, -30.6), (0.315, -19.7), (0.4, -15.0), (0.63, -8.4), (0.8, -6.0), (1.0, -4.2), (1.6, -1.8),
    (2.0, -0.9), (4.0, 0.0), (6.3, -0.9), (10.0, -2.1), (20.0, -5.9), (40.0, -10.4), (63.0, -14.2), (100.0, -17.3),
    (200.0, -23.0),
])
TABLE_HZ, TABLE_DB = TABLE.T
_CURVE = PchipInterpolator(np.log(TABLE_HZ), TABLE_DB)


def gain(rate_hz):
    """Linear gain at flutter rates `rate_hz`: monotone cubic in log frequency between the table's points, its end
    slopes continued (18 dB an octave below 0.1 Hz, 6 dB above 200 Hz)."""
    f = np.maximum(np.abs(np.asarray(rate_hz, dtype=float)), 1e-9)
    x = np.log(f)
    low, high = np.log(TABLE_HZ[0]), np.log(TABLE_HZ[-1])
    db = _CURVE(np.clip(x, low, high))
    db = db + 18.06 / np.log(2) * np.minimum(x - low, 0.0) - 6.02 / np.log(2) * np.maximum(x - high, 0.0)
    return 10 ** (db / 20)
