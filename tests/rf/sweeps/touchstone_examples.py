"""Published Touchstone examples as data: figures only, in our own layout.

Source: examples of the Touchstone documents 1.1, 2.0 and 2.1, as transcribed in
uvegege/TouchstoneParser.jl `Examples/` and scikit-rf `skrf/io/tests/ts/` (read second-hand).
"""

from __future__ import annotations

# 1-port S, 2 MHz, magnitude and angle, 50 ohm
ONE_PORT_S = "# MHz S MA R 50\n2 0.894 -12.136\n"

# 1-port Z, 75 ohm: (MHz, magnitude, angle), normalised in version 1; 75 times that in version 2
ONE_PORT_Z = ((100, 0.99, -4), (200, 0.80, -22), (300, 0.707, -45), (400, 0.40, -62), (500, 0.01, -89))
ONE_PORT_Z_OHM = (74.25, 60.0, 53.025, 30.0, 0.75)

# 2-port, GHz, real and imaginary; in version 1 order S11 S21 S12 S22
TWO_PORT_RI = """! two-port, three points
# GHz S RI R 50
1.0000 0.3926 -0.1211 -0.0003 -0.0021 -0.0003 -0.0021 0.3926 -0.1211
2.0000 0.3517 -0.3054 -0.0096 -0.0298 -0.0096 -0.0298 0.3517 -0.3054
10.000 0.3419 0.3336 -0.0134 0.0379 -0.0134 0.0379 0.3419 0.3336
"""

# 2-port with noise data, GHz, magnitude and angle, order 21_12
NETWORK = "2 .95 -26 3.57 157 .04 76 .66 -14\n22 .60 -144 1.30 40 .14 40 .56 -85\n"
NOISE_1 = "4 .7 .64 69 .38\n18 2.7 .46 -33 .40\n"
NOISE_2 = "4 .7 .64 69 19\n18 2.7 .46 -33 20\n"
WITH_NOISE = "!\n#\n" + NETWORK + NOISE_1


def version_2(head: str, body: str, option: str = "#", version: str = "2.0") -> str:
    """A file with keywords; head: lines between option line and [Network Data]."""
    return f"[Version] {version}\n{option}\n{head}[Network Data]\n{body}"


WITH_NOISE_2 = (
    version_2(
        "[Number of Ports] 2\n[Two-Port Data Order] 21_12\n[Number of Frequencies] 2\n"
        "[Number of Noise Frequencies] 2\n[Reference] 50 25.0\n",
        NETWORK,
        version="2.1",
    )
    + f"[Noise Data]\n{NOISE_2}[End]\n"
)

# 4-port, 5 GHz, magnitude and angle; row 2 has 161.20 on its diagonal where row 1 has 161.24
FOUR_PORT = """! one point of four ports
# GHz S MA R 50
5.00000 0.60 161.24 0.40 -42.20 0.42 -66.58 0.53 -79.34
        0.40 -42.20 0.60 161.20 0.53 -79.34 0.42 -66.58
        0.42 -66.58 0.53 -79.34 0.60 161.24 0.40 -42.20
        0.53 -79.34 0.42 -66.58 0.40 -42.20 0.60 161.24
"""
