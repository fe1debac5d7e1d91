"""Every message of a log, and what was offered last."""

from pathlib import Path

import pdcheck

Path("capture.log").write_text("a1612c9101082cd1020013c10300dcb00400a54006003c21dcc048c6e7c6\n")
found = pdcheck.decode("capture.log")
for row in found.rows():
    print(row["index"], row["header_type"], row["position"], row["voltage_mv"])
for offer in found.offers:
    print(offer.kind, offer.min_mv / 1000, offer.max_mv / 1000, offer.current_ma)
