"""What datasheets and tables say of modules, conversion and conductors, as numbers."""
