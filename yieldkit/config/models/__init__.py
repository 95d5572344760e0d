"""The parts of a site as frozen models: planes, modules, inverters, conductors."""
