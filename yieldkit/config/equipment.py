"""The door to all equipment models: module types, inverters and conductors."""

from yieldkit.config.base import Frozen, Name, NotNegative, Positive
from yieldkit.config.conductors import AcLead, Cable
from yieldkit.config.inverters import (
    AcSide,
    AltitudeDerating,
    DcIsolator,
    DeratingPoint,
    Efficiency,
    EfficiencyTable,
    Inverter,
    ListedEfficiency,
    MpptInput,
    PairLimit,
    SurgeProtection,
    WeightedEfficiency,
)
from yieldkit.config.modules import DatasheetModule, ListedModule, MatrixPoint, ModuleType

__all__ = [
    "AcLead",
    "AcSide",
    "AltitudeDerating",
    "Cable",
    "DatasheetModule",
    "DcIsolator",
    "DeratingPoint",
    "Efficiency",
    "EfficiencyTable",
    "Frozen",
    "Inverter",
    "ListedEfficiency",
    "ListedModule",
    "MatrixPoint",
    "ModuleType",
    "MpptInput",
    "Name",
    "NotNegative",
    "PairLimit",
    "Positive",
    "SurgeProtection",
    "WeightedEfficiency",
]
