"""Wrong edits of a bench file, one a row: name, old, new, key, what is wrong, given, allowed."""
# ruff: noqa: E501 - a table reads best with one row on one line
# fmt: off

from __future__ import annotations

from tests.badfiles import Slip

GOOD = '''# Everything that a bench file can say.
title = "Ten units of two kinds"
seed = 7
endless = false

[air]
temperature_c = 26.0
humidity_percent = 40
pressure_kpa = 99.5
drift_c_per_hour = 1.5

[target]
zero_mm = 0.1
scale_percent = -0.05

[light]
ambient = "mains-50"
leaks = true

[person]
reaction_s = 1.2
fit_s = 6.0
hand_mm_s = 300
placement_mm = 1.5
slide_mm_s = 2.5
unevenness = 0.2
hesitation = 0.1
stop_s = 0.5
reading_mm = 0.4

[gauge]
error_mm = 0.05
noise_mm = 0.02
lag_s = 0.03
interval_s = 0.02

[[kind]]
name = "our-own"
teach_method = "contact-count"
output_type = "NPN"
blind_zone_mm = 30
range_mm = 350
standard_target_mm = 20
smallest_window_mm = 10
residual = 1.0
response_s = 0.03

[[unit]]
kind = "barrel-18-rail"
count = 8
change = { output_type = "NPN", range_mm = 700 }
arrives = { mode = "window", output_function = "NC", near_mm = 100, far_mm = 300 }

[[unit]]
kind = "our-own"
faults = [
  { kind = "stores-wrongly", offset_mm = 12.0 },
  { kind = "led-dark" },
]

[[unit]]
faults = [{ kind = "wrong-kind", actual = "block-rail" }]

[[fault]]
kind = "teach-contact-welded"
nest = "A"
rail = "L-"
from_unit = 2
after_contacts = 3
after_s = 0.5

[[fault]]
kind = "supply-sag"
voltage_v = 8
for_s = 2.0
'''

KINDS = "barrel-12-count, barrel-18-plain, barrel-18-rail, barrel-30-length, block-rail, our-own"

SLIPS = (
    # wrong type
    Slip("seed as text", "seed = 7", 'seed = "7"', "seed", "must be a whole number", '"7"', "a whole number"),
    Slip("seed with a fraction", "seed = 7", "seed = 7.5", "seed", "must be a whole number", "7.5", "a whole number"),
    Slip("endless as number", "endless = false", "endless = 0", "endless", "must be true or false", "0", "true or false"),
    Slip("one unit without array", "[[kind]]", "[kind]", "kind", "must be an array", "a table", "an array"),
    Slip("fault as word", '{ kind = "led-dark" }', '"led-dark"', "unit#2.faults#2", "must be a table", '"led-dark"', "a table with kind"),
    Slip("temperature as text", "temperature_c = 26.0", 'temperature_c = "26 C"', "air.temperature_c", "must be a number", '"26 C"', "-20 to 60"),
    # missing
    Slip("missing title", 'title = "Ten units of two kinds"\n', "", "title", "is missing", "", "1 to 120", at=None),
    Slip("missing kind of fault", 'kind = "supply-sag"\n', "", "fault#2.kind", "is missing", "", "supply-sag", at="[[fault]]\nvoltage_v"),
    Slip("missing range", "range_mm = 350\n", "", "kind#1.range_mm", "is missing", "", "10000", at="[[kind]]"),
    Slip("missing method", 'teach_method = "contact-count"\n', "", "kind#1.teach_method", "is missing", "", "rail-order", at="[[kind]]"),
    Slip("no unit at all", GOOD[GOOD.index("[[unit]]"):], "", "unit", "is missing", "", "an array", at=None),
    # unknown
    Slip("mistyped key", "count = 8", "cuont = 8", "unit#1.cuont", "unknown key, did you mean count?", "8", "kind, count, change"),
    Slip("mistyped table", "[person]", "[persons]", "persons", "unknown key, did you mean person?", "a table", "title, seed"),
    Slip("mistyped fault", '"led-dark"', '"led-drak"', "unit#2.faults#2.kind", "did you mean led-dark?", '"led-drak"', "refuses-teach"),
    Slip("bench fault on a unit", '"led-dark"', '"person-silent"', "unit#2.faults#2.kind", "is not a word known here", '"person-silent"', "refuses-teach"),
    Slip("unheard-of light", '"mains-50"', '"candle"', "light.ambient", "is not a word known here", '"candle"', "mains-60"),
    Slip("unheard-of rail", 'rail = "L-"', 'rail = "0V"', "fault#1.rail", "is not a word known here", '"0V"', "L+"),
    Slip("change of what cannot change", "range_mm = 700", "teach_window_s = 700", "unit#1.change.teach_window_s", "unknown key", "700", "output_type, blind_zone_mm"),
    # out of range
    Slip("no units", "count = 8", "count = 0", "unit#1.count", "too small", "0", "1 to 100000"),
    Slip("too cold", "temperature_c = 26.0", "temperature_c = -273", "air.temperature_c", "too small", "-273", "-20 to 60"),
    Slip("too wet", "humidity_percent = 40", "humidity_percent = 140", "air.humidity_percent", "too large", "140", "0 to 100"),
    Slip("pressure in hectopascal", "pressure_kpa = 99.5", "pressure_kpa = 995", "air.pressure_kpa", "too large", "995", "60 to 110"),
    Slip("person without time", "reaction_s = 1.2", "reaction_s = 0", "person.reaction_s", "too small", "0", "time to read and begin, in seconds"),
    Slip("gauge that never reads", "interval_s = 0.02", "interval_s = 0", "gauge.interval_s", "too small", "0", "of its own, in seconds"),
    Slip("hand that stands", "slide_mm_s = 2.5", "slide_mm_s = 0", "person.slide_mm_s", "too small", "0", "in mm per second"),
    Slip("hand that comes back", "unevenness = 0.2", "unevenness = 1.2", "person.unevenness", "too large", "1.2", "goes up and down"),
    Slip("misread by nothing", 'kind = "supply-sag"\nvoltage_v = 8', 'kind = "scale-misread"', "fault#2.offset_mm", "fault scale-misread needs offset_mm", "", "offset_mm", at='[[fault]]\nkind = "scale-misread"'),
    Slip("no number", "placement_mm = 1.5", "placement_mm = nan", "person.placement_mm", "must be a finite number", "nan", "error of placing the target, in mm"),
    Slip("negative seed", "seed = 7", "seed = -7", "seed", "too small", "-7", "0"),
    Slip("residual in percent", "residual = 1.0", "residual = 15", "kind#1.residual", "too large", "15", "0 to 1"),
    Slip("name with spaces", 'name = "our-own"', 'name = "our own"', "kind#1.name", "is not written as it has to be", '"our own"', "lower-case letters"),
    Slip("fault before the first unit", "from_unit = 2", "from_unit = 0", "fault#1.from_unit", "too small", "0", "1"),
    # contradictory
    Slip("unknown kind", 'kind = "barrel-18-rail"', 'kind = "barel-18-rail"', "unit#1.kind", "no kind of unit has this name, did you mean barrel-18-rail?", '"barel-18-rail"', KINDS),
    Slip("unknown actual kind", 'actual = "block-rail"', 'actual = "brick"', "unit#3.faults#1.actual", "no kind of unit has this name", '"brick"', KINDS),
    Slip("two kinds of one name", 'name = "our-own"', 'name = "block-rail"', "kind#1.name", "another kind has this name", '"block-rail"', "a name of its own"),
    Slip("range within the blind zone", "range_mm = 350", "range_mm = 20", "kind#1.range_mm", "ends within the blind zone", "20", "more than blind_zone_mm = 30"),
    Slip("changed range within the blind zone", "range_mm = 700", "range_mm = 50", "unit#1.change.range_mm", "would end within its blind zone", "50", "60 mm of 50 mm"),
    Slip("window with one point", "near_mm = 100, ", "", "unit#1.arrives.near_mm", "mode window needs near_mm", "", "near_mm and far_mm", at="arrives"),
    Slip("full range with points", 'mode = "window"', 'mode = "full-range"', "unit#1.arrives.near_mm", "mode full-range has no near_mm", "100", "neither", at="arrives"),
    Slip("window inside out", "near_mm = 100, far_mm = 300", "near_mm = 300, far_mm = 100", "unit#1.arrives.far_mm", "not beyond the near end", "100", "more than near_mm = 300", at="arrives"),
    Slip("fault without its value", ', actual = "block-rail"', "", "unit#3.faults#1.actual", "fault wrong-kind needs actual", "", "kind, actual", at='faults = [{ kind = "wrong-kind"'),
    Slip("fault with a value not its own", '"led-dark" }', '"led-dark", percent = 5 }', "unit#2.faults#2.percent", "fault led-dark knows no percent", "5", "kind", at='{ kind = "led-dark", percent'),
    Slip("fault named twice", '"led-dark" }', '"stores-wrongly", inverse = true }', "unit#2.faults#2.kind", "the row has fault stores-wrongly already", '"stores-wrongly"', "each fault once", at='{ kind = "stores-wrongly", inverse'),
    Slip("wrong store that is right", "offset_mm = 12.0", "offset_mm = 0", "unit#2.faults#1.offset_mm", "nothing would be wrong", "0", "inverse = true", at='{ kind = "stores-wrongly"'),
    Slip("sag to nowhere", "voltage_v = 8\n", "", "fault#2.voltage_v", "fault supply-sag needs voltage_v", "", "for_s", at='[[fault]]\nkind = "supply-sag"'),
    Slip("sag of a nest", "voltage_v = 8\n", 'voltage_v = 8\nnest = "A"\n', "fault#2.nest", "fault supply-sag knows no nest", '"A"', "voltage_v", at='nest = "A"\nfor_s'),
)
