"""Captures of the CC line, VCD or CSV: edges, bits, packets; and packets back to a waveform."""
