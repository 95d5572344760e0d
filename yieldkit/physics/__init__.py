"""Pure functions of arrays: sky, heat, modules, circuits, inverter and grid."""
