"""How far a plant's log may lie from what is expected although all is wired as drawn.

What a log has in common with a meter is in `reference_errors`; all figures here are common
practice, no source.
"""

from __future__ import annotations

CLOCK_MIN = 8.0
"""A log's clock where it wasn't looked at [min]."""
CLOCK_LEAST_MIN = 2.0
"""The same where it was, at least: haze that comes and goes looks like some minutes [min]."""
LIGHT_DRIFT, SKY_DRIFT = 1.5, 4.0
"""A plane's light by the hour, where a sensor in it was read and where none was [%]."""
HEAT_DRIFT, AIR_DRIFT = 1.5, 3.0
"""A plane's heat by the hour, where it was read and where it wasn't [K]."""
RISE = 10.0
"""How much warmer 1000 W/m2 make cells than said, where no thermometer was read: by wind [K]."""
ROW = {"v_dc": 0.4, "i_dc": 0.8, "p_dc": 0.9}
"""A row by itself [%]."""
FLOOR = {"v_dc": 1.0, "i_dc": 0.03, "p_dc": 10.0}
"""What a row may be off in the least [V], [A], [W]."""
DIM_W_M2 = 10.0
"""Light by which currents may be off at any time, which counts where there is little [W/m2]."""
COLUMN = {"v_dc": 0.3, "i_dc": 1.0, "p_dc": 1.0}
"""The instrument of one input by itself [%]; half of it more by the hour."""
MISREAD, NONE = 30.0, 12.0
"""The same of a column that is worth nothing, and of all where none of the slips explains them."""
BY_THE_HOUR = 0.5
"""Share of a column's error that comes in addition and changes through the day [1]."""
ALIKE_S = 1800.0
"""For about so long errors of rows are alike: more rows in that time tell nothing more [s]."""
