"""The recomputation as a whole process: reads a session file, computes, writes a document.

    whole.py SESSION

For the comparison of times only. Streams are moved by lags of its own fit, because it knows no
document of the program."""

import json
import sys

import numpy as np

import cross_check
import examine
from recording import Session

session = Session(sys.argv[1])
main = session.of_role("reference")["power"]
lags = {
    source["name"]: examine.lag_s(source["power"], main, session.settings["align"]["near_s"])
    for source in session.sources
    if source["role"] != "reference"
}
found = cross_check.compute(session, lags)
kept = {key: value for key, value in found.items() if key not in ("session", "streams", "cells")}


def plain(value):
    if isinstance(value, (np.floating, np.integer)):
        return value.item()
    if isinstance(value, np.ndarray):
        return value.tolist()
    return str(value)


json.dump(kept, sys.stdout, default=plain)
