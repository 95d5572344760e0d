"""The weather a site file asks for, read and checked."""
