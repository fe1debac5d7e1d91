"""How long a test waits for another process: far past what a busy machine takes, so that only an endless wait ends."""

PATIENCE_S = 900.0
