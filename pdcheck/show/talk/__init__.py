"""What 'talk' shows."""
