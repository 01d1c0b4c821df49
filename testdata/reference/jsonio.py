"""Reading, writing and comparing the recorded JSON files."""
import json
import os
import tempfile

import numpy as np


def read(path):
    with open(path) as f:
        return json.load(f)


def round_all(v):
    """Every number to 12 significant digits."""
    if isinstance(v, dict):
        return {k: round_all(x) for k, x in v.items()}
    if isinstance(v, (list, tuple, np.ndarray)):
        return [round_all(x) for x in v]
    if isinstance(v, (bool, np.bool_)):
        return bool(v)
    if isinstance(v, (float, np.floating)):
        r = float("%.12g" % float(v))
        return 0.0 if r == 0 else r
    if isinstance(v, np.integer):
        return int(v)
    return v


def write(path, value):
    """One top-level key a line, whole or not at all."""
    value = round_all(value)
    lines = []
    for k, v in value.items():
        if isinstance(v, dict) and v and len(json.dumps(v)) > 200:
            inner = ",\n".join("  %s: %s" % (json.dumps(a), json.dumps(b, separators=(",", ":"))) for a, b in v.items())
            lines.append(" %s: {\n%s\n }" % (json.dumps(k), inner))
        else:
            lines.append(" %s: %s" % (json.dumps(k), json.dumps(v, separators=(",", ":"))))
    text = "{\n" + ",\n".join(lines) + "\n}\n"
    folder = os.path.dirname(os.path.abspath(path))
    with tempfile.NamedTemporaryFile("w", dir=folder, delete=False) as f:
        f.write(text)
        f.flush()
        os.fsync(f.fileno())
    os.chmod(f.name, 0o644)
    os.replace(f.name, path)


def worst(a, b):
    """Largest absolute difference between two structures of the same shape;
    infinite where the shapes differ."""
    if isinstance(a, dict):
        if not isinstance(b, dict) or set(a) != set(b):
            return float("inf")
        return max((worst(a[k], b[k]) for k in a), default=0.0)
    if isinstance(a, (list, tuple, np.ndarray)):
        if len(a) != len(b):
            return float("inf")
        return max((worst(x, y) for x, y in zip(a, b)), default=0.0)
    if a is None or b is None or isinstance(a, (str, bool)):
        return 0.0 if a == b else float("inf")
    return abs(float(a) - float(b))
