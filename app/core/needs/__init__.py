"""What a season takes: light, power, water, mix and everything that is ordered."""
