"""A million object words: how many are fixed offers of 3 A or more?"""

import numpy as np

import pdcheck

words = np.random.default_rng(7).integers(0, 1 << 32, 1_000_000, dtype=np.uint32)
columns = pdcheck.decode_objects(words)
fixed = columns["kind"] == "fixed"
print(len(words), int((fixed & (columns["current_ma"] >= 3000)).sum()))
