"""Wrong edits of the three rig profiles, one a row: name, old, new, key, what is wrong, given, allowed."""
# ruff: noqa: E501 - a table reads best with one row on one line
# fmt: off

from __future__ import annotations

from pathlib import Path

from tests.badfiles import Slip
from wiring.profile import shipped_profiles

STAGE = shipped_profiles()["simulated"].read_text(encoding="utf-8")
MANUAL = shipped_profiles()["single-nest"].read_text(encoding="utf-8")
TWO_RELAY = (Path(__file__).parent / "two-relay.toml").read_text(encoding="utf-8")

GAUGED = shipped_profiles()["hand-gauge"].read_text(encoding="utf-8")

GPIO = "a GPIO number as on the chip, GPIO2 to GPIO27, in quotes"

STAGE_SLIPS = (
    # wrong type
    Slip("number as text", "voltage_v = 24.0", 'voltage_v = "24"', "supply.voltage_v", "must be a number", '"24"', "10 to 30"),
    Slip("number as truth", "beat_s = 0.06", "beat_s = true", "coil_supply.beat_s", "must be a number", "true", "0.01 to 0.5"),
    Slip("text as number", 'name = "simulated"', "name = 5", "name", "must be text in quotes", "5", "lower-case letters"),
    Slip("line as number", '{ line = "GPIO4" }', "{ line = 4 }", "coil_supply.heartbeat.line", "must be text", "4", GPIO),
    Slip("table as text", 'heartbeat = { line = "GPIO4" }', 'heartbeat = "GPIO4"', "coil_supply.heartbeat", "must be a table", '"GPIO4"', "a table with line"),
    Slip("number as array", "side_mm = 100.0", "side_mm = [100.0]", "target.side_mm", "must be a number", "an array of 1", "up to 500"),
    Slip("number as date", "side_mm = 100.0", "side_mm = 2026-02-03", "target.side_mm", "a date or time has no place", "2026-02-03", "up to 500"),
    Slip("nest without array", "[[nest]]", "[nest]", "nest", "must be an array", "a table", "an array of 1 to 4 entries"),
    # missing
    Slip("missing title", 'title = "Simulated bench, one nest, linear stage"\n', "", "title", "is missing", "", "text of 1 to 80 characters", at=None),
    Slip("missing heartbeat", 'heartbeat = { line = "GPIO4" }\n', "", "coil_supply.heartbeat", "is missing", "", "a table with line", at="[coil_supply]"),
    Slip("missing line", 'load = { line = "GPIO19" }', 'load = { active = "low" }', "nest#1.load.line", "is missing", "", GPIO),
    Slip("missing stop button", 'stop_button = { line = "GPIO17", active = "low" }\n', "", "coil_supply.stop_button", "is missing", "", "a table with line", at="[coil_supply]"),
    Slip("missing kind of target", 'kind = "stage"\n', "", "target.kind", "is missing", "", '"manual" or "slots" or "stage"', at="[target]"),
    Slip("missing read-back", 'teach_at_plus = { line = "GPIO23" }\n', "", "nest#1.teach_at_plus", "is missing", "", "a table with line", at="[[nest]]"),
    Slip("no nest at all", STAGE[STAGE.index("[[nest]]") :], "", "nest", "is missing", "", "an array of 1 to 4 entries", at=None),
    # unknown
    Slip("mistyped key", "dropout_s = 0.2", "drop_out_s = 0.2", "coil_supply.drop_out_s", "unknown key, did you mean dropout_s?", "0.2", "heartbeat, beat_s, dropout_s"),
    Slip("key of nothing", "settle_s = 0.05", "colour = 0.05", "target.colour", "unknown key", "0.05", "kind, nearest_mm, farthest_mm"),
    Slip("key below its table", "[air]", "[air]\ndead_time_s = 0.1", "air.dead_time_s", "dead_time_s belongs at the top, above the first [table]", "0.1", "temperature_c", at="dead_time_s = 0.1"),
    Slip("table of nothing", "[air]", '["the air"]', '"the air"', "unknown key", "a table", "name, title, back_end"),
    Slip("mistyped word", 'active = "low"', 'active = "lo"', "coil_supply.stop_button.active", "is not a word known here, did you mean low?", '"lo"', '"high" or "low"'),
    Slip("unheard-of back end", 'back_end = "simulated"', 'back_end = "cloud"', "back_end", "is not a word known here", '"cloud"', '"simulated" or "gpio"'),
    # out of range
    Slip("no such line", '"GPIO27"', '"GPIO28"', "target.swing.line", "is not written as it has to be", '"GPIO28"', GPIO),
    Slip("board pin for line", '"GPIO4"', '"PIN7"', "coil_supply.heartbeat.line", "is not written as it has to be", '"PIN7"', GPIO),
    Slip("resistor too small", "series_resistor_ohm = 1000.0", "series_resistor_ohm = 0", "nest#1.series_resistor_ohm", "too small", "0", "a number from 470 to 4700"),
    Slip("not PELV", "voltage_v = 24.0", "voltage_v = 230", "supply.voltage_v", "too large", "230", "a number from 10 to 30"),
    Slip("time of nought", "release_s = 0.015", "release_s = 0", "nest#1.rail_selector.release_s", "too small", "0", "above 0 up to 0.5"),
    Slip("time before now", "dead_time_s = 0.05", "dead_time_s = -0.05", "dead_time_s", "too small", "-0.05", "a number from 0.02 to 1"),
    Slip("milliseconds for seconds", "operate_s = 0.02", "operate_s = 20", "target.swing.operate_s", "too large", "20", "seconds"),
    Slip("not a number", "speed_mm_s = 1000.0", "speed_mm_s = nan", "target.speed_mm_s", "must be a finite number", "nan", "a number above 0 up to 2000"),
    Slip("without end", "farthest_mm = 6500.0", "farthest_mm = inf", "target.farthest_mm", "must be a finite number", "inf", "up to 10000"),
    Slip("scale worse than none", "side_mm = 100.0", "side_mm = 100.0\nscale_error_percent = 20", "target.scale_error_percent", "too large", "20", "in % of the position", at="scale_error_percent"),
    Slip("zero that is right beyond doubt", "side_mm = 100.0", "side_mm = 100.0\nzero_error_mm = -0.1", "target.zero_error_mm", "too small", "-0.1", "of the sensing face, in mm", at="zero_error_mm"),
    Slip("scale without steps", "side_mm = 100.0", "side_mm = 100.0\nresolution_mm = 0", "target.resolution_mm", "too small", "0", "smallest step", at="resolution_mm"),
    Slip("target on its side", "side_mm = 100.0", "side_mm = 100.0\ntilt_deg = 45", "target.tilt_deg", "too large", "45", "in degrees", at="tilt_deg"),
    Slip("no room at all", "side_mm = 100.0", "side_mm = 100.0\nclear_radius_mm = 0", "target.clear_radius_mm", "too small", "0", "the unit's axis, in mm", at="clear_radius_mm"),
    Slip("air probe that guesses", "temperature_c = 23.0", "temperature_c = 23.0\ntemperature_error_k = 25", "air.temperature_error_k", "too large", "25", "in K", at="temperature_error_k"),
    Slip("without name", 'name = "A"', 'name = ""', "nest#1.name", "too short", '""', "letters, digits and hyphens, 1 to 12 characters"),
    Slip("endless title", '"Simulated bench, one nest, linear stage"', f'"{"x" * 500}"', "title", "too long", f'"{"x" * 57}..."', "text of 1 to 80 characters"),
    Slip("hidden letters", 'name = "A"', r'name = "A\u001b[2J\u202eB"', "nest#1.name", "is not written as it has to be", r'"A\x1b[2J\u202eB"', "letters, digits"),
    Slip("coil without wire", "[air]", "[electrical]\ncoil_ohm = 0\n\n[air]", "electrical.coil_ohm", "too small", "0", "resistance of a relay coil, in ohms", at="coil_ohm"),
    Slip("control supply beyond PELV", "[air]", "[electrical]\ncontrol_voltage_v = 230\n\n[air]", "electrical.control_voltage_v", "too large", "230", "10 to 30", at="control_voltage_v"),
    Slip("header of nothing", "[air]", '[electrical]\nheader = "26-pin"\n\n[air]', "electrical.header", "is not a word known here", '"26-pin"', '"40-pin" or "other"', at="header"),
    Slip("mistyped part", "[air]", "[electrical]\ncoil_ohms = 700\n\n[air]", "electrical.coil_ohms", "unknown key, did you mean coil_ohm?", "700", "header, control_voltage_v", at="coil_ohms"),
    # contradictory
    Slip("two jobs on one line", '"GPIO13"', '"GPIO16"', "nest#1.teach_contact.line", "GPIO16 already works as nest#1.supply", '"GPIO16"', "a line with no other job"),
    Slip("foot switch on the heartbeat", 'line = "GPIO22"', 'line = "GPIO4"', "foot_switch.line", "GPIO4 already works as coil_supply.heartbeat", '"GPIO4"', "a line with no other job"),
    Slip("selector falls first", "release_s = 0.015", "release_s = 0.008", "nest#1.rail_selector.release_s", "the selector would move before the teach contact is open", "0.008", "more than release_s + bounce_s of teach_contact = 0.008"),
    Slip("selector as fast as others", ", release_s = 0.015", "", "nest#1.rail_selector.release_s", "the selector would move", "0.005", "more than", at="rail_selector"),
    Slip("slow heartbeat", "beat_s = 0.06", "beat_s = 0.07", "coil_supply.beat_s", "three beats must fit into dropout_s", "0.07", "up to 0.0667 with dropout_s = 0.2"),
    Slip("slow relay", 'teach_contact = { line = "GPIO13" }', 'teach_contact = { line = "GPIO13", operate_s = 0.05 }', "dead_time_s", "shorter than the slowest teach relay of nest A", "0.05", "at least 0.053", at="dead_time_s"),
    Slip("reach of nought", "nearest_mm = 0.0", "nearest_mm = 6500", "target.nearest_mm", "beyond the farthest", "6500", "less than farthest_mm = 6500"),
    Slip("stage without swing", 'swing = { line = "GPIO27", operate_s = 0.02, release_s = 0.02, bounce_s = 0.003 }\n', "", "target.swing", "a stage target needs swing", "", "port, speed_mm_s, swing", at="[target]"),
    Slip("move without its number", 'port = "sim:stage"', 'port = "sim:stage"\ndialect = { move = "G0 X" }', "target.dialect.move", "must hold {mm} once", '"G0 X"', "such as X{mm}", at="dialect ="),
    Slip("hand bench with a stage's words", 'kind = "stage"', 'kind = "manual"\ndialect = { home = "G28" }', "target.dialect", "a manual target has no dialect", "a table", 'kind = "stage" only', at="dialect ="),
    Slip("air probe with one register", 'port = "sim:supply"', 'port = "sim:supply"\n[air.probe]\nport = "p"\nhumidity = { address = 0 }', "air.probe.humidity.address", "one question", "0", "another one, within 124", at="humidity ="),
    Slip("code reader on the stage's port", "[target]", '[code_reader]\nport = "sim:stage"\n[target]', "code_reader.port", "the stage is on this port already", '"sim:stage"', "a port of its own", at='port = "sim:stage"'),
    Slip("stage with no port", 'port = "sim:stage"\n', "", "target.port", "a stage target needs port", "", "port, speed_mm_s", at="[target]"),
    Slip("two instruments on a port", '"sim:stage"', '"sim:supply"', "target.port", "the supply is on this port already", '"sim:supply"', "a port of its own"),
    Slip("supply without port", 'port = "sim:supply"\n', "", "supply.port", "a scpi supply needs a port", "", 'kind = "scpi"', at="[supply]"),
    Slip("port without supply", 'kind = "scpi"', 'kind = "fixed"', "supply.port", "a fixed supply has no port", '"sim:supply"', 'kind = "scpi"', at='port = "sim:supply"'),
    Slip("topology without its relays", 'topology = "selector"', 'topology = "two-relay"', "nest#1.plus_contact", "topology two-relay needs plus_contact", "", "plus_contact and minus_contact", at="[[nest]]"),
    Slip("topology with others' relays", 'topology = "selector"', 'topology = "two-relay"', "nest#1.teach_contact", "topology two-relay has no teach_contact", "a table", "plus_contact and minus_contact", at="teach_contact"),
)

MANUAL_SLIPS = (
    # where the board has its lines
    Slip("numbers without a chip", 'find = "by-name"', 'find = "by-number"', "gpio.chip", "numbers say nothing without their chip", "", "the label of the chip", at="[gpio]"),
    Slip("way of finding that nobody knows", 'find = "by-name"', 'find = "by-magic"', "gpio.find", "is not a word known here", '"by-magic"', '"by-name" or "by-number"'),
    Slip("unheard-of library", 'find = "by-name"', 'library = "gpio"', "gpio.library", "is not a word known here", '"gpio"', '"gpiod" or "lgpio"', at="library = "),
    Slip("chip without label", 'find = "by-name"', 'chip = ""', "gpio.chip", "too short", '""', "1 to 64 characters", at='chip = ""'),
    Slip("chip for lgpio", 'find = "by-name"', 'library = "lgpio"\nchip = "x"', "gpio.chip", "lgpio has no chip", '"x"', 'library = "gpiod" only', at='chip = "x"'),
    Slip("line elsewhere and nowhere", 'find = "by-name"', 'elsewhere = [{ line = "GPIO17" }]', "gpio.elsewhere#1.name", "a line has a name or a number", "", "one of name, number", at="elsewhere = "),
    Slip("line elsewhere twice over", 'find = "by-name"', 'elsewhere = [{ line = "GPIO17", name = "x", number = 3 }]', "gpio.elsewhere#1.number", "a line has a name or a number", "3", "one of name, number", at="elsewhere = "),
    Slip("number of no chip", 'find = "by-name"', 'elsewhere = [{ line = "GPIO17", number = 3 }]', "gpio.elsewhere#1.chip", "a number says nothing without its chip", "", "the label of the chip", at="elsewhere = "),
    Slip("line told twice", 'find = "by-name"', 'elsewhere = [{ line = "GPIO17", name = "x" }, { line = "GPIO17", name = "y" }]', "gpio.elsewhere#2.line", "this line is told twice", '"GPIO17"', "each line once", at="elsewhere = "),
    Slip("line elsewhere without a job", 'find = "by-name"', 'elsewhere = [{ line = "GPIO3", name = "x" }]', "gpio.elsewhere#1.line", "this line has no job", '"GPIO3"', "GPIO13, GPIO16", at="elsewhere = "),
    Slip("scale with a stage's port", 'kind = "manual"', 'kind = "manual"\nport = "x"', "target.port", "a manual target has no port", '"x"', "none of", at='port = "x"'),
    Slip("scale with slots", "placement_mm = 1.0", "slots = [{ number = 1, position_mm = 5, line = \"GPIO20\" }]", "target.slots", "a manual target has no slots", "an array of 1", "none of"),
)

GAUGED_SLIPS = (
    Slip("gauge without port", 'port = "sim:gauge"\n', "", "target.gauge.port", "is missing", "", "path of a serial port", at="[target.gauge]"),
    Slip("gauge on the supply's port", '"sim:gauge"', '"sim:supply"', "target.gauge.port", "the supply is on this port already", '"sim:supply"', "a port of its own"),
    Slip("gauge that is never wrong", "error_mm = 0.1", "error_mm = -0.1", "target.gauge.error_mm", "too small", "-0.1", "all along its way, in mm"),
    Slip("gauge without steps", "resolution_mm = 0.01", "resolution_mm = 0", "target.gauge.resolution_mm", "too small", "0", "smallest step of its reading"),
    Slip("gauge in milliseconds", "lag_s = 0.05", "lag_s = 50", "target.gauge.lag_s", "too large", "50", "in seconds"),
    Slip("mistyped key of the gauge", "reads_inward", "read_inward", "target.gauge.read_inward", "unknown key, did you mean reads_inward?", "true", "port, baud, at_zero_mm"),
    Slip("slow slide at a run", "slide_mm_s = 5.0", "slide_mm_s = 500", "target.hand.slide_mm_s", "too large", "500", "in mm per second"),
    Slip("eye that is never wrong", "reading_mm = 0.5", "reading_mm = 0", "target.hand.reading_mm", "too small", "0", "reads the scale right within this"),
    Slip("stop before the sign", "stop_least_s = 0.15", "stop_least_s = 0.7", "target.hand.stop_least_s", "not less than the most", "0.7", "less than stop_most_s = 0.65"),
)

TWO_RELAY_SLIPS = (
    Slip("gauge at slots", 'kind = "slots"', 'kind = "slots"\ngauge = { port = "x" }', "target.gauge", "a slots target has no gauge", "a table", 'gauge with kind = "manual" only', at="gauge = "),
    Slip("hand at slots", 'kind = "slots"', 'kind = "slots"\nhand = { slide_mm_s = 3 }', "target.hand", "a slots target has no hand", "a table", 'hand with kind = "manual" only', at="hand = "),
    Slip("slots going backwards", "position_mm = 350.0", "position_mm = 100", "target.slots#2.position_mm", "slots must rise in position_mm", "100", "more than 100"),
    Slip("slot number twice", "number = 2", "number = 1", "target.slots#2.number", "slots must rise in number", "1", "more than 1"),
    Slip("slot out of reach", "position_mm = 100", "position_mm = 79", "target.slots#1.position_mm", "outside the reach", "79", "80 to 600"),
    Slip("slot number of nought", "number = 1", "number = 0", "target.slots#1.number", "too small", "0", "a whole number from 1 to 99"),
    Slip("slot number with a fraction", "number = 1", "number = 1.5", "target.slots#1.number", "must be a whole number", "1.5", "from 1 to 99"),
    Slip("two nests of one name", '"right"', '"left"', "nest#2.name", "another nest has this name", '"left"', "a name of its own"),
    Slip("line of the other nest", '"GPIO21"', '"GPIO9"', "nest#2.output_at_minus.line", "GPIO9 already works as nest#1.teach_at_plus", '"GPIO9"', "no other job"),
    Slip("slot's line taken", '"GPIO2"', '"GPIO17"', "target.slots#1.line", "GPIO17 already works as coil_supply.stop_button", '"GPIO17"', "no other job"),
    Slip("slow relay of one nest", "release_s = 0.012", "release_s = 0.06", "dead_time_s", "slowest teach relay of nest right", "0.06", "at least 0.063", at="dead_time_s"),
    Slip("one relay of two", 'minus_contact = { line = "GPIO7", active = "low" }\n', "", "nest#1.minus_contact", "needs minus_contact", "", "plus_contact and minus_contact", at="[[nest]]"),
)
