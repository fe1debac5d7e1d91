"""Labels as people type them; what cannot be read is told and skipped."""

import pdcheck

for label in ("5V 3A, 9V 2A", "5V 3A, 9 apples", ""):
    try:
        picked = pdcheck.pick(label, "5V@2A")
    except pdcheck.InputError as error:
        print("skipped:", error)
    else:
        print(label, repr(picked))
try:
    pdcheck.Wire("20AWG 1m", contacts="-3ohm")
except ValueError as wrong:
    print(wrong)
