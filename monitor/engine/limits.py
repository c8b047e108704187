"""Every threshold of the engine in one table, each with its unit and where it comes from.

"definition" marks numbers that say what a finding is (section "Findings" of DEVELOPERS.md); "design" marks choices of
this room, derived or measured as monitor/engine/README.md says; "practice" is common practice without a source.
"""

from monitor.model import SLOT_S

BEAT_S = 30.0
"""Length of one beat, the step of all process findings, seconds (design: six slots, so that a median drops two)."""

SLOTS_PER_BEAT = round(BEAT_S / SLOT_S)

HISTORY_BEATS = 80
"""Beats that the filters look back: 40 min (design)."""

BRIDGE_BEATS = 6
"""A gap of up to this many beats is bridged by a straight line; a longer one starts a new history: 3 min (design)."""

SPIKE_C = 40.0
"""A slot this far from the median of its beat is a spike, degC (practice: stokes move a sheath less within 30 s)."""

JUMP_C = 60.0
"""A change between neighbouring beats that no sheathed chamber thermocouple can follow, degC (practice)."""

CLIMB_LAG_MIN = 8.0
"""The climb tells the rate of rise this long ago, minutes (design)."""

LEVEL_LAG_MIN = 3.5
"""The level, net of ripple, is the temperature this long ago, minutes (design)."""

FALL_DEPTH_C = 10.0
"""How far below its own highest value a zone must be, degC (definition)."""

FALL_LOOKBACK_BEATS = 60
"""Highest value of the trailing 30 min (definition)."""

FALL_CONFIRM_BEATS = 2
"""Beats in a row that must show the depth before a fall is told: 1 min (design: the rest of the 5 min is foreseen)."""

FALL_BREAK_S = 600.0
"""Breaks under 10 min are closed (definition)."""

FALL_SILENT_ZONE_S = 1800.0
"""A zone silent for this long no longer holds a fall that other zones have left, seconds (design)."""

STALL_CLIMB_C_PER_H = 5.0
"""Below this the guide stands still, degC/h (definition)."""

STALL_PLAN_C_PER_H = 20.0
"""Where the plan, or without one the last 3 h, climbs at least this much, degC/h (definition)."""

STALL_ABOVE_PLAN_C = 10.0
"""Nobody waits for a kiln this far above its plan, degC (definition)."""

STALL_SPAN_BEATS = 44
"""Unbroken history without which the climb is too uncertain to call a stall: 22 min (design)."""

STALL_SHORTFALL_C = 0.5
"""A stall is told when the climb's shortfall below `STALL_CLIMB_C_PER_H` has added up to this, degC (design: tuned with
tests/bench/falls_and_stalls.py, so that a fire that dies is told sooner than one that hesitates)."""

STALL_BREAK_S = 300.0
"""Breaks under 5 min are closed (definition)."""

SLOW_PLAN_C_PER_H = 8.0
"""Where the plan climbs from here to `STALL_PLAN_C_PER_H`, the slow rule holds, degC/h (definition)."""

SLOW_SHARE = 0.25
"""The slow rule: climb below this share of the plan's (definition)."""

SLOW_CONFIRM_S = 900.0
"""How long the slow rule must hold before it is told, seconds (design: with the window's lag about 63 min)."""

SLOW_STEP_BEATS = 10
"""Beats between points of the slow record of levels: 5 min (design)."""

SLOW_POINTS = 37
"""Points of the slow record: 3 h (definition of a stall without a plan)."""

SLOW_SHARE_HEARD = 0.75
"""Share of the points of a window that must be there for a slow climb to be told (design)."""

SLOW_WINDOW_POINTS = 19
"""Points of the slow rule's window: 90 min (definition)."""

FAULT_CLEAN_S = 120.0
"""A sensor fault ends after this long without a break, seconds (design: breaks 1 to 20 s apart are one finding)."""

FAULT_MEMORY_SLOTS = 24
"""Slots of the memory for intermittent breaks: 2 min where every slot is heard (design)."""

FAULT_BREAKS = 3
"""Breaks within the memory that make a finding although no two were consecutive (design)."""

MISSING_S = 15.0
"""Silence after which a sensor that had been there is missing, seconds (design: fifteen scans at 1 Hz)."""

MISSING_SPACINGS = 3.0
"""Silence in units of the sensor's usual spacing, for sensors that are read less often (design)."""

USUAL_SPACING_MAX_S = 600.0
"""The longest spacing of samples taken for a habit, seconds (design)."""

SPIKE_VOLTS = 0.8e-3
"""An emf that moves this much within a slot, or for one sample and back, is a spike, V (design: 20 degC of type K, 70
of type S; no sheathed junction follows a flame like that)."""

SPIKE_RETURN = 0.25
"""A lone sample is a spike where the next lies within this share of it from the one before (design)."""

SPIKES_TOLD = 10
"""Spikes within `SPIKES_WITHIN_S` that make a finding (design)."""

SPIKES_WITHIN_S = 600.0
"""Memory for spikes, and how long without one ends the finding: 10 min (design)."""

FROZEN_S = 600.0
"""The very same emf for this long is no measurement: a converter's noise is two counts (data sheet of a MAX31856)."""

FROZEN_FINISHED_S = 1800.0
"""The same for finished temperatures, which come in coarse steps (design)."""

NEGATIVE_VOLTS = -0.2e-3
"""An emf below this says that the hot end is colder than the cold one, V (design: 5 degC of type K, 35 of type S)."""

REVERSED_S = 600.0
"""How long it must, while another sensor is warm, to be called reversed (design)."""

REVERSED_WARM_C = 60.0
"""Warm: a fire is lit, degC (design)."""

REVERSED_AT_ONCE_VOLTS = -2.0e-3
"""No junction in a kiln is this cold, V: type K at -50 degC (design)."""

REVERSED_AT_ONCE_S = 30.0
"""Then this long is enough (design)."""

JUMP_SLOT_C = 8.0
"""A change between slots that is looked at, degC (design: a sheath losing 10 degC in a minute moves 1 in a slot)."""

JUMP_SETTLED_SLOTS = 3
"""Slots after which a jump has arrived where it goes: a contact needs two, a sheath goes on for a minute (design)."""

JUMP_LASTS_SLOTS = 8
"""Slots for which it must then stay there (design)."""

JUMP_WANDERS = 0.3
"""Share of the jump that the reading may move while it stays (design)."""

JUMP_OVER_USUAL = 6.0
"""A step must be this many times the sensor's usual change between beats (design)."""

SHORT_BELOW_C = 110.0
"""A lead shorted at the connection head reads the head: below this, degC (practice: heads get 40 to 90 degC warm)."""

SHORT_FALL_C = 60.0
"""What it must have lost at once, degC (design)."""

STEP_HEALED_C = 5.0
"""A step is over when the reading has jumped back to within this, degC (design)."""

CELL_WORKS_C = 600.0
"""Below this a zirconia cell conducts too badly to be read, degC (practice)."""

REDUCTION_WINDOW_BEATS = 30
"""Demand over air is averaged over 15 min (definition: 10 min or 2.5 stoke intervals, here of 6 min)."""

REDUCTION_HEARD = 0.7
"""Share of that window that must be known (design)."""

REDUCTION_CONFIRM_S = 300.0
"""How long the mean must say reduction before it is told, seconds (design: the rest of the 10 min is foreseen)."""

REDUCTION_BREAK_S = 180.0
"""Breaks under 3 min are closed (definition)."""
