"""Bad scenario files: one clear message each, naming file, key, value and what would do."""

from __future__ import annotations

import pytest

from soundergate.scenario import ScenarioError, load, loads, with_values
from soundergate.scenario.errors import show
from soundergate.scenario.units import parse_quantity

GATE = '{kind = "drop", sheet = "14 gauge"}'
OTHER_WAY = """[[opening]]
width = "3 ft"
height = "3 ft"
gate = {kind = "drop"}
latch = {kind = "pin", puller = "animal"}

"""
LATCH = '{kind = "pin", puller = "solenoid", pull = "25 lbf", lever = 4}'


UNTOLD = '[campaign]\nchecks = "after closure"\n'


def message(night: str, old: str, new: str) -> str:
    """The error of the test night with `old` replaced by `new`."""
    assert old in night
    with pytest.raises(ScenarioError) as caught:
        loads(night.replace(old, new, 1), "night.toml")
    return str(caught.value)


# (what stands in the good file, what replaces it, the whole message)
WHOLE_MESSAGES = [
    *(
        (
            'width = "4 ft"',
            f"width = {said}",
            f"night.toml: opening.1.width = {said}: must be a length with its unit, in ft, in, m "
            'or cm for example; write it with its unit, such as "4 ft"',
        )
        for said in ("{}", '{median = "4 ft"}', '{a = 1, b = "4 ft"}', "[]")
    ),
    (
        'width = "4 ft"',
        'widht = "4 ft"',
        "night.toml: opening.1.widht = \"4 ft\": unknown key; did you mean 'width'?",
    ),
    (
        'width = "4 ft"',
        "",
        'night.toml: opening.1.width: this key is required; such as width = "4 ft"',
    ),
    (
        'width = "4 ft"',
        "width = 4",
        "night.toml: opening.1.width = 4: a bare number where a unit is due: this is a length, "
        'in ft, in, m or cm for example; write it with its unit, such as "4 ft"',
    ),
    (
        'width = "4 ft"',
        'width = "4 lb"',
        "night.toml: opening.1.width = \"4 lb\": the unit 'lb' is not a length; "
        "ft, in, m or cm would do",
    ),
    (
        'width = "4 ft"',
        'width = "-4 ft"',
        'night.toml: opening.1.width = "-4 ft": out of range for a length; it must be above 0 m',
    ),
    (
        'width = "4 ft"',
        'width = "41 ft"',
        'night.toml: opening.1.width = "41 ft": as wide as half the corral\'s perimeter or '
        "wider; it must be below 40.84 ft",
    ),
    (
        "sows = 2",
        "sows = true",
        "night.toml: sounder.sows = true: must be a whole number, at least 0; "
        "write it without quotes, point or unit",
    ),
    (
        "sows = 2\njuveniles = 5\npiglets = 4",
        "",
        "night.toml: sounder: the group is empty; "
        "give sows, boars, juveniles or piglets, or a preset",
    ),
    (
        "sows = 2\njuveniles = 5",
        "sows = 2\njuveniles = 195",
        "night.toml: sounder: the group has 201 animals; at most 200 can be played",
    ),
    (
        'kind = "line"',
        'kind = "lien"',
        'night.toml: trigger.kind = "lien": not one of the choices: "line", "bait", "counter", '
        '"person", "none"; did you mean "line"?',
    ),
    (
        'kind = "line"',
        'kind = "person"\ncount = 3\nshare = 0.5',
        "night.toml: trigger.share = 0.5: give one of count, share and rule, not count and share",
    ),
    (
        'diameter = "26 ft"',
        "diameter = inf\npanel_height = 5\nspace_per_pig = 1",
        "night.toml: corral.diameter = inf: a bare number where a unit is due: this is a length, "
        'in ft, in, m or cm for example; write it with its unit, such as "4 ft" '
        "(and 2 more errors)",
    ),
]


@pytest.mark.parametrize(("old", "new", "text"), WHOLE_MESSAGES, ids=lambda x: x[:30])
def test_whole_message(night_text, old, new, text):
    assert message(night_text, old, new) == text


# (what stands in the good file, what replaces it, the key, what the message says)
CASES = [
    # sounder and bodies
    ("sows = 2", "cows = 2", "sounder.cows = 2", "did you mean 'sows'?"),
    ("sows = 2", 'sows = "2"', 'sounder.sows = "2"', "must be a whole number, at least 0"),
    ("sows = 2", "sows = 2.0", "sounder.sows = 2.0", "must be a whole number"),
    ("sows = 2", "sows = -1", "sounder.sows = -1", "must be at least 0"),
    ("sows = 2", "subgroups = 12", "sounder.subgroups = 12", "more subgroups than the 9 animals"),
    ("sows = 2", 'mass = {sow = "0 kg"}', "sounder.mass.sow", "it must be above 0 kg"),
    ("sows = 2", 'mass = {cow = "70 kg"}', "sounder.mass.cow", "did you mean 'sow'?"),
    ("sows = 2", 'mass = "70 kg"', "sounder.mass", "must be a table of keys and values"),
    ("[corral]", '[body]\nduck = "0.8"\n[corral]', "body.duck", "without quotes"),
    ("[corral]", "[body]\nduck = 0\n[corral]", "body.duck = 0", "above 0 and at most 1"),
    # corral and bait
    ('diameter = "26 ft"', 'diameter = "0 ft"', "corral.diameter", "it must be above 0 m"),
    ('"26 ft"', '"26 ft"\nbait_distance = "26 ft"', "corral.bait_distance", "26 ft across"),
    ('"26 ft"', '"26 ft"\nbait_distance = "40 ft"', "corral.bait_distance", "outside the fence"),
    ("[corral]", '[bait]\npatch = [{distance = "2 ft", radius = "3 ft"}]\n[corral]',
     "bait.patch.1.radius", "at most"),
    ("[corral]", '[bait]\npatch = [{distance = "9 ft", opening = 2}]\n[corral]',
     "bait.patch.1.opening", "the trap has one opening"),
    ("[corral]", '[bait]\npatch = [{distance = "9 ft", aside = "13 ft"}]\n[corral]',
     "bait.patch.1.distance", "outside the fence"),
    ("[corral]", '[bait]\npatch = [{distance = "9 ft"}]\n[corral]\nbait_distance = "9 ft"',
     "corral.bait_distance", "leave out one"),
    ('height = "3 ft"', 'height = "3 ft"\nbait_distance = "9 ft"', "opening.1.bait_distance",
     "follows from the plan"),
    ("[corral]", "[bait]\nlevels_appetite = [1, 2]\n[corral]", "bait.levels", "needs 5 numbers"),
    ("[corral]", '[bait]\nmass = "-1 lb"\n[corral]', 'bait.mass = "-1 lb"', "above 0 kg"),
    ("[corral]", "[bait]\nintake = 0.02\n[corral]", "bait.intake = 0.02", "this is a rate"),
    # opening and gate
    ("[[opening]]", "[opening]", "opening", "must be a list; write [[opening]]"),
    ('height = "3 ft"', 'height = "nan ft"', "opening.1.height", "not a finite number"),
    ('height = "3 ft"', 'height = "1e9 ft"', "opening.1.height", "not believable"),
    (f"gate = {GATE}", "", "opening.1.gate", 'such as gate = {kind = "drop"'),
    (GATE, '"drop"', 'opening.1.gate = "drop"', 'must be a table; such as {kind = "..."}'),
    (GATE, "{}", "opening.1.gate.kind", 'choose one of: "drop", "top-hinged", "side-hinged"'),
    (GATE, '{kind = "drip"}', 'opening.1.gate.kind = "drip"', 'did you mean "drop"?'),
    (GATE, '{kind = "drop", mass = "0 kg"}', "opening.1.gate.mass", "it must be above 0 kg"),
    (GATE, '{kind = "drop", mass = "-9 lb"}', "opening.1.gate.mass", "it must be above 0 kg"),
    (GATE, '{kind = "drop", sheet = "14 gague"}', "opening.1.gate.sheet", 'write "14 gauge"'),
    (GATE, '{kind = "drop", sheet = "0 mm"}', "opening.1.gate.sheet", "must be above zero"),
    (GATE, '{kind = "drop", mesh = "thick"}', "opening.1.gate.mesh", '"4 gauge 2x4 in"'),
    (
        GATE,
        '{kind = "drop", sheet = "2 mm", plywood = "1 in"}',
        "opening.1.gate",
        "give one of sheet, plywood, boards, mesh, not sheet and plywood",
    ),
    (
        GATE,
        '{kind = "drop", channel_length = "3 ft"}',
        'opening.1.gate.channel_length = "3 ft"',
        "too short to hold the raised gate; they must be longer than the opening is high, 3 ft",
    ),
    (
        GATE,
        '{kind = "drop", guided_length = "4 ft"}',
        "opening.1.gate.guided_length",
        "more guided length than the gate is high; at most 3 ft",
    ),
    (
        GATE,
        '{kind = "drop", set_angle = "90 deg"}',
        "opening.1.gate.set_angle",
        'set_angle belongs to a gate with kind = "top-hinged" or "side-hinged"',
    ),
    (
        GATE,
        '{kind = "top-hinged", set_angle = "176 deg"}',
        "opening.1.gate.set_angle",
        "beyond the stop; at most 175 deg",
    ),
    (
        GATE,
        '{kind = "top-hinged", set_angle = "100 deg", stop = "95 deg"}',
        "opening.1.gate.set_angle",
        "beyond the stop; at most 95 deg",
    ),
    (GATE, '{kind = "top-hinged", set_angle = 90}', "opening.1.gate.set_angle", "this is an angle"),
    (GATE, '{kind = "side-hinged", leaves = 3}', "opening.1.gate.leaves = 3", "choices: 1, 2"),
    (GATE, '{kind = "side-hinged", leaves = true}', "opening.1.gate.leaves", "choices: 1, 2"),
    (
        GATE,
        '{kind = "side-hinged", rise = "2 in"}',
        "opening.1.gate.rise",
        'rise belongs to a gate with closer = "rising hinge"',
    ),
    (GATE, '{kind = "drop", lock = "yes"}', "opening.1.gate.lock", "must be true or false"),
    (GATE, '{kind = "net skirt"}', "opening.1.latch", "a net skirt needs no latch"),
    # latch
    (LATCH, '{kind = "knob"}', 'opening.1.latch.kind = "knob"', '"pin", "knee", "finger"'),
    (LATCH, '{puller = "horse"}', "opening.1.latch.puller", '"solenoid", "air cylinder", "animal"'),
    (
        LATCH,
        '{puller = "air cylinder", pull = "25 lbf"}',
        "opening.1.latch.pull",
        'pull belongs to a latch with puller = "solenoid"',
    ),
    (
        LATCH,
        '{kind = "knee", overhang = "1 in"}',
        "opening.1.latch.overhang",
        'overhang belongs to a latch with kind = "pin"',
    ),
    (
        LATCH,
        '{puller = "air cylinder", bore = "1 in", rod = "1 in"}',
        "opening.1.latch.rod",
        "the rod is as thick as the bore or thicker; it must be thinner than 25.4 mm (1 in)",
    ),
    (
        LATCH,
        '{puller = "air cylinder", pressure = "-3 psi"}',
        "opening.1.latch.pressure",
        "pressure below atmosphere",
    ),
    (LATCH, '{pull = "25 lb"}', "opening.1.latch.pull", "a pound of force is lbf"),
    (LATCH, "{lever = 0}", "opening.1.latch.lever = 0", "a ratio must be above 0"),
    (LATCH, "{turns = 900}", "opening.1.latch.plunger_area", "needs both turns and plunger_area"),
    (LATCH, '{kind = "pin", puller = "animal"}\n[[opening]]\nwidth = "2 ft"\nheight = "3 ft"\n'
            'gate = {kind = "drop", cat = 1}', "opening.2.gate.cat", "unknown key"),
    # trigger
    ('kind = "line"', "", "trigger.kind", "choose one of"),
    ('kind = "line"', "kind = 3", "trigger.kind = 3", "not one of the choices"),
    ('kind = "line"', 'kind = "line"\nany = []', "trigger.any", "give one of kind, any and all"),
    ('kind = "line"', 'kind = "line"\nheight = "0 in"', "trigger.height", "above 0 m"),
    ('kind = "line"', 'kind = "line"\ndistance = "30 ft"', "trigger.distance", "far side"),
    ('kind = "line"', 'kind = "line"\nspan = "30 ft"', "trigger.span", "the corral is 18.5"),
    ('kind = "line"', 'kind = "line"\ndistance = "0.1 ft"', "trigger.distance", "runs through"),
    ('kind = "line"', 'kind = "line"\nbetween = ["0 deg", "90 deg"]', "trigger.between",
     "through opening 1"),
    ('kind = "line"', 'kind = "line"\nbetween = ["90 deg", "450 deg"]', "trigger.between",
     "at one place"),
    ('kind = "line"', 'kind = "line"\nbetween = ["90 deg"]', "trigger.between", "two bearings"),
    ('kind = "line"', 'kind = "line"\nbetween = ["90 deg", "180 deg"]\nspan = "5 ft"',
     "trigger.span", "leave out span, or between"),
    ('kind = "line"', 'kind = "bait"\nheight = "9 in"', "trigger.height", 'with kind = "line"'),
    ('kind = "line"', 'kind = "person"\nshare = 1.5', "trigger.share = 1.5", "at most 1"),
    ('kind = "line"', 'kind = "person"\nlink = "mail"', "trigger.link", '"radio", "modem"'),
    (
        'kind = "line"',
        'kind = "person"\nrule = [{after = "9 s", count = 3}, {after = "1 s", count = 2}]',
        "trigger.rule",
        "in order of time",
    ),
    (
        'kind = "line"',
        'kind = "person"\nrule = [{after = "0 s", count = 3, wait = true}]',
        "trigger.rule.1.wait",
        "give wait or count, not both",
    ),
    (
        'kind = "line"',
        'kind = "person"\nrule = [{after = "0 s", share = 0.5, wait = true}]',
        "trigger.rule.1.wait",
        "give wait or share, not both",
    ),
    (
        'kind = "line"',
        'kind = "person"\nrule = [{after = "0 s", wait = false}]',
        "trigger.rule.1.count",
        "count = 8, or wait = true",
    ),
    ('kind = "line"', 'any = [{kind = "line"}]', "trigger.any", "needs at least two triggers"),
    ('kind = "line"', "all = 3", "trigger.all = 3", "must be a list"),
    (
        'kind = "line"',
        'any = [{kind = "line"}, {kind = "none"}]',
        "trigger.any.2.kind",
        '"none" cannot be one of several triggers',
    ),
    (
        'kind = "line"',
        'all = [{kind = "line"}, {kind = "counter", mis = 0.1}]',
        "trigger.all.2.mis",
        "did you mean 'miss'?",
    ),
    (
        'kind = "line"',
        'any = [{kind = "line"}, {kind = "counter", false_release = "1/day"}]',
        "trigger.any.2.false_release",
        "move it up to [trigger]",
    ),
    (
        'kind = "line"',
        'any = [{kind = "counter"}, {kind = "line", distance = "30 ft"}]',
        "trigger.any.2.distance",
        "beyond the far side of the corral",
    ),
    # behaviour
    ("[corral]", "[startle]\nbolt_share = 1.2\n[corral]", "startle.bolt_share", "at most 1"),
    ("[corral]", "[startle]\nbolt_share = nan\n[corral]", "startle.bolt_share", "must be finite"),
    ("[corral]", '[startle]\ndelay = "never"\n[corral]', "startle.delay", "must come to an end"),
    ("[corral]", "[entry]\nclock = 20\n[corral]", "entry.clock = 20", "this is a time"),
    ("[corral]", '[entry]\nclock = {dist = "lognormal", median = "2 ft", sigma = 1}\n[corral]',
     "entry.clock.median", "not a time"),
    # the top
    ("title", "tittle", "tittle", "did you mean 'title'?"),
    ('title = "Invented: a trap for tests"', "title = 3", "title = 3", "must be text in quotes"),
    ('title = "Invented: a trap for tests"', "sows = 2", "sows = 2", "sows belongs in [sounder]"),
    ('title = "Invented: a trap for tests"', 'gate = "x"', "gate", "gate belongs in [[opening]]"),
    ("[sounder]\nsows = 2\njuveniles = 5\npiglets = 4", "", "sounder", "start with a table"),
    ('[trigger]\nkind = "line"', "", "trigger", "start a table [trigger]"),
]  # fmt: skip


@pytest.mark.parametrize(("old", "new", "key", "words"), CASES, ids=[c[1][:40] for c in CASES])
def test_message_names_file_key_and_what_would_do(night_text, old, new, key, words):
    text = message(night_text, old, new)
    assert text.startswith(f"night.toml: {key}"), text
    assert words in text


def test_all_openings_together_must_leave_some_fence(night_text):
    wide = night_text.replace('width = "4 ft"', 'width = "40 ft"').replace('"line"', '"counter"')
    second = '[[opening]]\nwidth = "40 ft"\nheight = "3 ft"\ngate = {kind = "drop"}\n\n'
    third = second.replace("40 ft", "4 ft")
    loads(wide.replace("[trigger]", second + "[trigger]"))
    with pytest.raises(ScenarioError, match=r"as wide as the whole fence or wider; the fence is"):
        loads(wide.replace("[trigger]", second + third + "[trigger]"))


def test_an_opening_is_too_wide_only_from_half_the_perimeter_on(night_text):
    just_below = night_text.replace('width = "4 ft"', 'width = "40.84 ft"')
    half = loads(night_text).corral.perimeter / 2
    with pytest.raises(ScenarioError, match="as wide as half the corral's perimeter or wider"):
        with_values(loads(night_text), {"opening.width": f"{half!r} m"})
    assert loads(just_below).opening[0].width == pytest.approx(12.448, abs=1e-3)


def test_a_latch_that_nothing_pulls(night_text):
    animal = night_text.replace(LATCH, '{puller = "animal"}')
    loads(animal)
    loads(animal.replace('kind = "line"', 'kind = "none"'))
    with pytest.raises(ScenarioError, match=r"opening.1.latch.puller = \"animal\": nothing would"):
        loads(animal.replace('kind = "line"', 'kind = "counter"'))


@pytest.mark.parametrize("combine", ["any", "all"])
@pytest.mark.parametrize("switch", ["counter", "person"])
@pytest.mark.parametrize("pulls", ["line", "bait"])
@pytest.mark.parametrize("place", [1, 2])
def test_a_latch_that_one_of_several_triggers_cannot_pull(
    night_text, combine, switch, pulls, place
):
    kinds = [pulls, pulls]
    kinds.insert(place - 1, switch)
    several = f"{combine} = [" + ", ".join(f'{{kind = "{kind}"}}' for kind in kinds) + "]"
    night = night_text.replace('kind = "line"', several)
    loads(night)  # a solenoid or an air cylinder pulls for both
    animal = night.replace(LATCH, '{puller = "animal"}')
    loads(animal.replace(f'{{kind = "{switch}"}}', '{kind = "line"}'))
    with pytest.raises(ScenarioError) as found:
        loads(animal, "night.toml")
    text = str(found.value)
    assert text.startswith('night.toml: opening.1.latch.puller = "animal": nothing would pull')
    assert f"trigger.{combine}.{place}, a {switch}, acts" in text
    assert 'take puller "solenoid" or "air cylinder"' in text
    assert len(text.splitlines()) == 1
    # it is the latch of the second opening that nothing would pull
    two = night.replace("[trigger]", OTHER_WAY + "[trigger]")
    with pytest.raises(ScenarioError, match=r"opening\.2\.latch\.puller"):
        loads(two)


def test_too_many_openings(night_text):
    more = '[[opening]]\nwidth = "1 ft"\nheight = "3 ft"\ngate = {kind = "drop"}\n' * 12
    with pytest.raises(ScenarioError, match="13 openings"):
        loads(night_text.replace("[trigger]", more + "[trigger]"))
    none = night_text[: night_text.index("[[opening]]")] + '[trigger]\nkind = "none"\n'
    with pytest.raises(ScenarioError, match=r"opening: this key is required; start a table"):
        loads(none)
    with pytest.raises(ScenarioError, match=r"0 openings"):
        loads("opening = []\n" + none)


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("[sounder\nsows = 2", "not valid TOML: Expected ']'"),
        ("[sounder\nsows = 2", "(at line 1, column 9)"),
        ("a = 1\nb =", "(at line 2, column 4, where the text ends)"),
        ("width = 4 ft", "(at line 1, column 11)"),
        ("a = " + "9" * 5000, "a number has too many digits"),
        ("a = " + "[" * 5000, "nested too deeply"),
        ("", "the file is empty; a scenario needs [sounder], [[opening]] and [trigger]"),
        ("# nothing but a remark\n", "the file is empty"),
    ],
)
def test_what_is_no_toml_says_where(text, words):
    with pytest.raises(ScenarioError) as caught:
        loads(text, "night.toml")
    assert str(caught.value).startswith("night.toml: ")
    assert words in str(caught.value)


def test_files_that_cannot_be_read(tmp_path):
    def said(path) -> str:
        with pytest.raises(ScenarioError) as caught:
            load(path)
        assert caught.value.file == str(path)
        return str(caught.value)

    assert said(tmp_path / "none.toml").endswith("none.toml: there is no such file")
    assert "is a directory; name a scenario file" in said(tmp_path)
    latin = tmp_path / "latin.toml"
    latin.write_bytes(b'# one\ntitle = "caf\xe9"\n')
    assert "not UTF-8 text (line 2); save the file as UTF-8" in said(latin)
    big = tmp_path / "big.toml"
    big.write_bytes(b"#" * 1_000_001)
    assert "larger than 1000000 bytes" in said(big)
    assert "cannot be read" in said("a\0b")
    empty = tmp_path / "empty.toml"
    empty.touch()
    assert "the file is empty" in said(empty)


def test_a_byte_order_mark_is_no_error(tmp_path, night_text):
    path = tmp_path / "marked.toml"
    path.write_bytes(b"\xef\xbb\xbf" + night_text.encode())
    assert load(path).sounder.sows == 2


def test_the_error_carries_its_parts(night_text):
    with pytest.raises(ScenarioError) as caught:
        loads(night_text.replace('"4 ft"', '"4 lb"'), "night.toml")
    error = caught.value
    assert (error.file, error.key, error.value) == ("night.toml", "opening.1.width", "4 lb")
    assert error.hint == "ft, in, m or cm would do"


def test_the_error_survives_a_trip_to_another_process(night_text):
    import pickle

    with pytest.raises(ScenarioError) as caught:
        with_values(loads(night_text), {"opening.width": "4 lb"})
    again = pickle.loads(pickle.dumps(caught.value))
    assert str(again) == str(caught.value)
    assert again.key == "opening.1.width"


def test_values_are_shown_as_toml_and_kept_short():
    assert show(True) == "true"
    assert show('a "b"') == '"a \\"b\\""'
    assert show(float("nan")) == "nan"
    assert show({"kind": "drop", "n": [1, 2]}) == '{kind = "drop", n = [1, 2]}'
    assert show("x" * 500) == '"' + "x" * 56 + "..."
    assert show(10**80) == "an integer of more than 60 digits"
    assert "\n" not in show("two\nlines")


@pytest.mark.parametrize(
    ("title", "code", "place"),
    [
        (r"bell \u0007 here", "U+0007", 6),
        (r"\u001b[31m red", "U+001B", 1),
        (r"two\nlines", "U+000A", 4),
        (r"a tab\there", "U+0009", 6),
        (r"parted\u2029here", "U+2029", 7),
    ],
)
def test_a_title_with_a_control_character_is_refused(night_text, title, code, place):
    said = message(night_text, "Invented: a trap for tests", title)
    assert said.startswith("night.toml: title = ")
    assert (
        f"holds a control character ({code}) at place {place}, which no page or picture can show; "
        "write it as one line of plain text"
    ) in said
    assert said.isprintable()


def test_a_title_may_be_in_any_script(night_text):
    title = "Invented: Vildsvin på Öland, 猪, $5 & <b>"
    assert loads(night_text.replace("Invented: a trap for tests", title)).title == title


def test_drag_is_said_in_one_way(night_text):
    both = '{kind = "drop", sheet = "14 gauge", drag = "3 lbf", drag_share = 0.1}'
    assert message(night_text, GATE, both) == (
        "night.toml: opening.1.gate.drag_share = 0.1: give drag or drag_share, not both; "
        "drag is a force, drag_share a share of the gate's weight"
    )


def test_who_goes_after_closures_only_must_hear_of_them(night_text):
    """A trap with a line: nothing tells that it has shut, unless there is an alarm or a link."""
    with pytest.raises(ScenarioError) as caught:
        loads(night_text + UNTOLD, "night.toml")
    assert str(caught.value) == (
        'night.toml: campaign.checks = "after closure": nothing tells that a gate has shut; take '
        'checks "daily", a trigger of kind "person", whose link tells, or an alarm: '
        "campaign.alarm = true, with its prices costs.alarm and costs.alarm_plan"
    )
    assert loads(night_text + UNTOLD + "alarm = true\n").campaign.alarm
    night = with_values(loads(night_text), {"trigger": {"kind": "person"}})
    assert with_values(night, {"campaign.checks": "after closure"}).campaign.checks != "daily"
    either = {"any": [{"kind": "line"}, {"kind": "person"}]}
    both = {"trigger": either, "campaign.checks": "after closure"}
    assert with_values(loads(night_text), both).campaign.checks == "after closure"


@pytest.mark.parametrize("key", ["", ".", ".sows", "a b", "a.b", "ключ"])
@pytest.mark.parametrize("place", ["", "[bait]", "[arrival.first]", "[entry.clock]"])
def test_a_key_of_odd_signs_is_named_as_it_is_written(night_text, key, place):
    """Dots and blanks of a key are none of a path; one without letters is shown as well."""
    fixed = 'fixed = "1 s"\n' if place == "[entry.clock]" else ""
    added = f'{place}\n{fixed}"{key}" = 1\n'
    text = night_text + "\n" + added if place else added + night_text
    with pytest.raises(ScenarioError) as caught:
        loads(text, "night.toml")
    wanted = ".".join(part for part in (place.strip("[]"), f'"{key}"') if part)
    assert str(caught.value).startswith(f"night.toml: {wanted}"), caught.value


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("title = 'a'\ntitle = 'b'", ["title stands there twice", "line 2", "keep one"]),
        ("[sounder]\nsows = 1\n[sounder]\n", ["[sounder] stands there twice", "line 3"]),
        ("[sounder]\nsows = 1\nsows = 2\n[corral]\n", ["sows stands there twice", "line 3"]),
    ],
)
def test_what_stands_there_twice_is_named(text, words):
    with pytest.raises(ScenarioError) as refused:
        loads(text, "a.toml")
    assert all(word in str(refused.value) for word in words), str(refused.value)
    assert "quotes" not in str(refused.value)


@pytest.mark.parametrize(
    ("written", "hint"),
    [("4,5 ft", 'write "4.5 ft"'), ("4’", 'write "4 ft"'), ("4’ 6”", 'write "4 ft 6 in"')],
)
def test_how_people_write_feet_is_answered_with_how_to(written, hint):
    with pytest.raises(ScenarioError, match=hint):
        parse_quantity(written, "length")
