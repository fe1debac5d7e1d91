"""What happens in a rig when its source offers less, or is unplugged."""
