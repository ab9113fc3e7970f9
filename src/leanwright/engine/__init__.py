"""What an engine is: profile, sharing of fuel, mixture curve."""
