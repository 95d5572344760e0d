"""What is allowed: electrical checks, conductors, the place on the wall, possible wirings."""
