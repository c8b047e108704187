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

STALL_SHORTFALL_C = 0.4
"""A stall is told when the climb's shortfall below `STALL_CLIMB_C_PER_H` has added up to this, degC (design: tuned with
tests/bench/falls_and_stalls.py, so that a fire that dies is told sooner than one that hesitates) ..."""

STALL_SURE = 2.0
"""... and it lies so many of its own standard uncertainties below (design: tuned with tests/bench/detection)."""

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

MISSING_S = 20.0
"""Silence after which a sensor that had been there is missing, seconds (design: twenty scans at 1 Hz). What comes late
is no silence ..."""

UNJUDGED_S = 180.0
"""... but nothing is judged of it: a sensor that only sends late for this long is missing too, seconds (design: as long
as a gap is bridged; from then on no fall could be told)."""

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

NEGATIVE_VOLTS = -0.4e-3
"""An emf below this says that the hot end is colder than the cold one, V (design: 10 degC of type K, 65 of type S; a
flue on a winter's night is 5 degC colder than the box by the kiln)."""

REVERSED_S = 600.0
"""How long it must, while another sensor is warm, to be called reversed (design)."""

REVERSED_WARM_C = 60.0
"""Warm: a fire is lit, degC (design)."""

REVERSED_AT_ONCE_VOLTS = -2.0e-3
"""No junction in a kiln is this cold, V: type K at -50 degC (design)."""

REVERSED_AT_ONCE_S = 30.0
"""Then this long is enough (design)."""

HUM_VOLTS = 0.2e-3
"""Width of a slot's emf that no fire makes slot after slot, V (design: 5 degC of type K in 5 s)."""

HUM_SLOTS = 60.0
"""Memory for such slots, in slots: 5 min (design)."""

HUM_SHARE = 0.5
"""Share of them that is told (design: a fire that is stoked has a few)."""

JUMP_SLOT_C = 3.0
"""A change between slots that is looked at, degC (design: a flickering firebox moves 3.5 at most, a sheath losing
10 degC in a minute 1)."""

JUMP_SLOPE = 0.08
"""After a jump the reading must not climb or fall, against before, by more than this share of the jump in a slot."""

JUMP_RESIDUAL = 0.25
"""Nor scatter about its line by more than this share (design)."""

JUMP_AT_ONCE = 0.85
"""Share of the jump that must have come between the slots beside the one where it began (design: heat takes three slots
or more even in a bare sheath)."""

JUMP_THEN_REST = 0.15
"""The most, as a share of the jump, that the next slot may add (design)."""

JUMP_LEAST_C = 9.0
"""The least jump that counts, degC (design)."""

JUMP_LEAST_IN_FLAME_C = 18.0
"""The same where flame and gas pass, at firebox and flue, degC (design)."""

JUMP_OVER_USUAL = 5.0
"""A jump must be this many times the sensor's usual change between beats (design)."""

EXCHANGE_VOLTS = 0.03e-3
"""How near an emf must be to what the other one was: V (design: 3 degC of type S), ..."""

EXCHANGE_SHARE = 0.15
"""... and this share of what they were apart (design)."""

SHORT_BELOW_C = 110.0
"""A lead shorted at the connection head reads the head: below this, degC (practice: heads get 40 to 90 degC warm)."""

SHORT_ABOVE_C = -20.0
"""Nor is a head colder than this, degC (practice)."""

SHORT_FALL_C = 60.0
"""What it must have lost at once, degC (design)."""

DRIFT_C = 9.0
"""How far off a reading must be, degC (definition: 10, less what the measurement of it may be wrong)."""

STEP_HEALED_C = 4.0
"""A step is over when the reading has jumped back to within this, degC (design)."""

COLD_OFF_C = 2.0
"""How far cold junctions of one node may differ beyond what is usual, degC (definition)."""

COLD_USUAL_C = 1.0
"""The most that is taken for usual, degC (data sheet of a MAX31856: each is right within 0.7)."""

COLD_HOT_C = 60.0
"""A box this warm stands in a flame or by a hot wall, degC (practice: converters work to 85)."""

COLD_BEATS = 2
"""Beats for which it must be off, or well again: 1 min (design)."""

COLD_LEARN_BEATS = 720.0
"""What is usual is learnt over 6 h (design)."""

COLD_MOVED_BEATS = 60.0
"""Whether one of two moved is judged against its last half hour (design)."""

AIR_C = 25.0
"""Air beside a kiln, degC (practice)."""

PULLED_SHARE = 0.5
"""Share of what it was above the air that a pulled probe has lost (design), ..."""

PULLED_LEAST_C = 40.0
"""... at least this, degC (design)."""

PULLED_OTHERS = 0.12
"""Share that no other sensor may have lost meanwhile (design: a door left open takes a tenth of all)."""

PULLED_BEATS = 3
"""Beats in a row that must show it (design: a shorted lead is told before)."""

TICK_S = 300.0
"""How often slow faults are judged, seconds (design)."""

LETTER_MISFIT = 1.5
"""Misfit (see misfit.py) from which mistakes are looked for (design: a kiln in preheat has 1 at most, a wrong letter 2
to 6)."""

LETTER_REST = 0.35
"""Share of the misfit that the right guess may leave (design)."""

LETTER_CLEAR = 0.25
"""By how much the next best guess must fit worse (design)."""

LETTER_SELDOM = 0.5
"""Misfit that is added to the guess of two exchanged inputs (design)."""

LETTER_WARM_C = 60.0
"""Half of the sensors at least must read this much above the air, degC (design)."""

LETTER_TICKS = 3
"""Ticks in a row that must say so: 10 min (design)."""

ORDER_C = 30.0
"""How much hotter a sensor further from the fire must be than one nearer to it, degC (design)."""

ORDER_MOST_C = 700.0
"""Above this, flames reach through the chamber and the order of places means nothing, degC (practice)."""

ORDER_TICKS = 24
"""Ticks for which the order must be wrong: 2 h (design)."""

PAIR_CLIMB_SHARE = 0.01
"""Share of what the kiln climbed by which two sensors of a place may part (design: tolerance, and what they see)."""

PAIR_ALIKE_C, PAIR_ALIKE_SHARE = 4.0, 0.015
"""Two are neighbours where, when last known well, they read alike: degC, and share of what they read (design)."""

PAIR_WARM_C = 150.0
"""Below this all sensors read alike, degC (design)."""

PAIR_CALM_C = 1.5
"""And where their difference usually changes by less than this in an hour, degC (design)."""

PAIR_OVER_USUAL = 4.0
"""Times what their difference usually does (design)."""

PAIR_LEARN_TICKS = 144.0
"""What it usually does is learnt over 12 h (design)."""

PAIR_HEALED = 0.5
"""Share of the difference at which it is over (design)."""

HELD_S = 60.0
"""A value that was the very same for this long was held: what it jumps to is right (design)."""

COLD_JUMP_C = 1.0
"""A cold junction that moves this much between slots explains a jump of the reading, degC (design)."""

CELL_WORKS_C = 600.0
"""Below this a zirconia cell conducts too badly to be read, degC (practice)."""

REDUCTION_WINDOW_BEATS = 30
"""Demand over air is averaged over 15 min (definition: 10 min or 2.5 stoke intervals, here of 6 min)."""

REDUCTION_HEARD = 0.7
"""Share of that window that must be known (design)."""

REDUCTION_CONFIRM_S = 240.0
"""How long the mean must say reduction before it is told, seconds (design: the rest of the 10 min is foreseen)."""

REDUCTION_BREAK_S = 300.0
"""Breaks under 5 min are closed (design: 3 by definition, which the mean of 15 min crosses to and fro)."""

INFERRED_LOOK_BEATS = 4
"""Beats between looks at how temperatures swing with the stokes: 2 min (design)."""

INFERRED_INTERVALS = 6
"""So many of the newest intervals between stokes are looked at (design: fewer are quicker and less sure) ..."""

INFERRED_INTERVALS_LEAST = 3
"""... and so many must lie in the history whole (design)."""

INFERRED_INTERVAL_MAX_S = 1500.0
"""A longer interval is none: a stoke was missed, or a watch slept, seconds (practice)."""

INFERRED_CELLS = 20
"""Beats of a history that must lie in these intervals: 10 min (design)."""

INFERRED_HOT_C = 600.0
"""Below this in the hottest of the chamber nothing is inferred: wood gas hardly burns there, degC (practice)."""

INFERRED_PLACES_LEAST = 2
"""Firebox, front and flue: so many must be known, since one thick sheath alone turns a swing (design)."""

INFERRED_BIAS = -1.2
"""Log odds of reduction with no place known.

This and the next two are rounded from a fit to looks every 4 min of 26 simulated firings of seed 2, recorded and behind
thicker sheaths; tests/bench/inferred_reduction.py fits again and prints the areas under the curve of both.
"""

INFERRED_OF_PLACE = (0.8, 1.05, -2.0)
"""What firebox, front and flue add to the log odds where they are known ..."""

INFERRED_PER_SWING = (4.65, 5.0, -4.65)
"""... and what they add for each unit of swing."""

INFERRED_BEGIN, INFERRED_END = 0.7, 0.2
"""Probability from which reduction is told, and below which it is over (design: one told in two is noise) ..."""

INFERRED_CONFIRM_S, INFERRED_BREAK_S = 360.0, 600.0
"""... and for how long either must be seen, seconds (design: tuned with tests/bench/inferred_reduction.py)."""

INFERRED_LOST_S = 2700.0
"""An inferred reduction that could not be seen for this long while sensors spoke is over, seconds (design)."""

STOKE_COARSE_SHARE = 0.3
"""Share of slots without a sample from which a sensor is taken at 10 s for stokes (design)."""

STOKE_FINE_SHARE = 0.15
"""Share below which it is taken at 5 s again (design)."""

STOKE_SURE_SLOTS = 60
"""Calm slots to learn from before surprises count: 5 min (design)."""

STOKE_SURPRISE = 5.0
"""The most that one slot counts for, in standard deviations (design: one wild slot alone is no stoke)."""

STOKE_FLOOR_C = 0.02
"""Least usual size of a change from slot to slot, degC (design: half of a converter's noise)."""

STOKE_PENALTY = 4.5
"""What the choice among shapes and amounts costs, in log likelihood (design: tuned with tests/bench/stokes.py)."""

STOKE_BLOCK_BEATS = 2
"""Beats that stokes are looked for in at once: 1 min (design: half the work of every beat)."""

STOKE_FIT_BLOCKS = 5
"""Blocks between fits of the noise's weights: 5 min (design)."""

STOKE_APART_S = 75.0
"""Charges closer than this are one stoke, seconds (definition)."""

STOKE_LEAST_EVIDENCE = 3.0
"""Log likelihood ratio without which nothing is a stoke, however due one is (design)."""

STOKE_LEAST_LOG_ODDS = 1.0
"""Log odds from which a stoke is told (design: tuned with tests/bench/stokes.py)."""

STOKE_LOOKS_PER_DAY = 12.0
"""How often a door is opened without a stoke (practice)."""

STOKE_SURE_OFFSET = -0.3
"""What the log odds of a stoke promise too much, against how often it was one (design: tests/bench/detection)."""

STOKE_SURE_MOST = 4.0
"""Log odds above this are no surer (design)."""

STOKE_TAPPED_S = 150.0
"""So long after a stoke somebody may tap it, seconds (practice: the door is shut first, then the gloves come off)."""

STOKE_WARM_C = 100.0
"""Where no firebox sensor speaks, a chamber sensor below this is not asked for stokes, degC (design)."""

STOKE_LEAST_DIP_C = 0.3
"""A firebox sensor that dips less shows no stoke, degC (design: one stoke in a hundred dips less)."""

STOKE_SURE_AGAINST_LOOK = 3.0
"""Log odds against a look below which a stoke is told only when wood is seen to burn (design)."""

STOKE_LEAST_AGAINST_LOOK = 1.5
"""Log odds against a look from which a stoke is told (design: tuned with tests/bench/stokes.py)."""

STOKE_LOOKS_SHARE = 0.25
"""Where more than this share would be looks, they are stokes (practice: a crew looks less often than it stokes)."""

STOKE_INTERVAL_MIN_S, STOKE_INTERVAL_MAX_S = 80.0, 3600.0
"""Intervals that a crew may keep, seconds (practice)."""

STOKE_LULL_S = 7200.0
"""After this long without a stoke its time says nothing of the next but that there may be none, seconds (design)."""

STOKE_SETTLED_COUNT = 6
"""Stokes told before one may be found between two others (design)."""

STOKE_BETWEEN_EVIDENCE = 1.0
"""Log likelihood ratio that a stoke between two others must have of its own (design)."""

STOKE_BETWEEN_SCORE = -0.5
"""Least sum of that and of how well both intervals fit (design)."""

STOKE_BETWEEN_SPREAD = 0.12
"""Spread of a crew's log intervals there (practice: a tenth)."""

RHYTHM_FIVE = 1.25
"""Five intervals in a row that take this many times the usual (definition)."""

RHYTHM_OFF_EACH = 0.15
"""How far off an interval must be to count (definition)."""

RHYTHM_LEAST_OFF = 3
"""How many of the five must be that far off (definition)."""

RHYTHM_FIVE_END = 1.15
"""Below this many times the usual the rhythm is back (design)."""

RHYTHM_SHARE = 0.3
"""What the newest interval counts for in the EWMA (practice: 0.2 to 0.3, NIST/SEMATECH e-Handbook 6.3.2.4)."""

RHYTHM_WIDTH = 3.0
"""Limits of the EWMA chart in its own standard deviations (practice)."""

RHYTHM_SPREAD = 0.12
"""Standard deviation of the log of a good crew's intervals (practice: a tenth and a little for timing)."""

RHYTHM_QUICKER = 0.85
"""A rhythm this much quicker is taken for wanted: every next stage is quicker (practice)."""

RHYTHM_QUICKER_EACH = 0.92
"""An interval this much shorter than the usual one is one of a quicker rhythm (design)."""

RHYTHM_MOST_QUICKER = 7
"""So many of eight must be, or a stoke seen where none was has cut some in two (design)."""

RHYTHM_EVEN = 0.25
"""Intervals that lie within this of their median, as a log, are of one rhythm (practice: twice a crew's spread) ..."""

RHYTHM_MOST_EVEN = 5
"""... and so many of eight must, before it is taken for the usual one (design)."""

RHYTHM_OTHER = 2.5
"""Nobody drifts this far: the usual rhythm was learnt from something else (practice)."""

RHYTHM_BACK_S = 10800.0
"""For this long a quicker rhythm may have been haste, after which the one before is no drift, seconds: 3 h (design)."""

RHYTHM_ADOPT_S = 14400.0
"""A rhythm that has been slow for this long is taken for the new one, seconds: 4 h (design)."""
