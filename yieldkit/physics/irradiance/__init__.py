"""From the sun's position to the light on a plane."""
