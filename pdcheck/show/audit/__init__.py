"""What 'audit' shows."""
