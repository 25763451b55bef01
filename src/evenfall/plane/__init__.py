"""The aeroplane as measured: data, no physics."""
