"""What scripts mean: values, blocks and statements, and where they stand."""

from fractions import Fraction

import pytest

from foldwright.grammar import Refused, design, read, read_text

HEAD = 'card "Tide pool"\n  units mm\ncover 130 x 180\n'

TIDE_POOL = """\
card "Tide pool"
  units mm
  step  0.5                       # dimensions are found on this grid; inches: 1/16

cover 130 x 180                   # one page: width from the spine, height along it
  opens 180                       # flat; 90 = an L
  clear 3                         # nothing nearer to the closed cover's edge
  spine gusset                    # plain, or a gusset as wide as the closed card is thick
  paper ink

paper ink    colour #22304a  weight 216 gsm
paper glass  colour #9fc6c9  weight 65 lb cover
paper weed   colour #3f6f4b  caliper 0.28

mat 11.5 in x 11.5 in             # what the machine reaches

insert page on spine              # the sheet that hides the glued tabs
  paper glass

ring tank on page
  paper  glass
  wall   50 to 80
  height 25 to 45

lattice weeds in tank
  paper  weed
  layers 3 by 3
  rise   60 to 110
  art    "art/weed.svg" along top

cutout crab
  paper coral
  art   "art/crab.svg" width 22
  pair on weeds.a2 at top         # two cut-outs with the layer between them

require weeds.rise >= 1.4 * tank.height   because "the weed must show above the glass"
prefer  largest weeds.rise
prefer  least paper
"""


def plain(node):
    """A node as a short text without spans, so that tests read like the script; operations in parentheses."""
    match node:
        case design.Text(text=text):
            return f'"{text}"'
        case design.Number(value=value, unit=unit):
            return f"{value}{unit or ''}"
        case design.Word(text=text) | design.Colour(text=text) | design.Name(text=text):
            return text
        case design.Negative(operand=operand):
            return f"-{plain(operand)}"
        case design.Binary(operator=operator, left=left, right=right):
            return f"({plain(left)} {operator} {plain(right)})"
        case design.Call(function=function, arguments=arguments):
            return f"{function}({', '.join(map(plain, arguments))})"
        case design.Range(low=low, high=high):
            return f"[{plain(low)} to {plain(high)}]"
        case design.Size(width=width, height=height):
            return f"[{plain(width)} x {plain(height)}]"
        case design.Count(first=first, second=second):
            return f"[{plain(first)} by {plain(second)}]"
        case design.Place(how=how, target=target):
            return f"<{how} {plain(target)}>"
    raise AssertionError(f"no plain form of {node!r}")


def arguments(line):
    """Plain arguments of one setting line."""
    (setting,) = read_text(f"{HEAD}reef a\n  {line}\n").blocks[1].settings
    return [plain(argument) for argument in setting.arguments]


def expression(text):
    """Plain form of an expression."""
    return plain(read_text(f"{HEAD}prefer largest {text}\n").prefers[0].target)


def test_tide_pool_is_read_whole():
    card = read_text(TIDE_POOL)
    assert (card.title, card.unit, card.step) == ("Tide pool", "mm", Fraction(1, 2))
    assert [block.keyword.text for block in card.blocks] == ["cover", "insert", "ring", "lattice", "cutout"]
    assert [paper.name.text for paper in card.papers] == ["ink", "glass", "weed"]
    assert [mat.width for mat in card.mats] == [Fraction("292.1")]
    assert [plain(wish.target) for wish in card.prefers] == ["weeds.rise", "paper"]
    assert card.requires[0].because == "the weed must show above the glass"
    assert card.requires[0].at.text.startswith("require weeds.rise")


def test_settings_of_the_tide_pool():
    cover, _, ring, weeds, crab = read_text(TIDE_POOL).blocks
    settings = [setting for block in (cover, ring, weeds, crab) for setting in block.settings]
    found = {setting.word.text: [plain(a) for a in setting.arguments] for setting in settings}
    assert found["opens"] == ["180"]
    assert found["spine"] == ["gusset"]
    assert found["wall"] == ["[50 to 80]"]
    assert found["layers"] == ["[3 by 3]"]
    assert found["pair"] == ["<on weeds.a2>", "<at top>"]
    assert [plain(a) for a in weeds.settings[3].arguments] == ['"art/weed.svg"', "<along top>"]


@pytest.mark.parametrize(
    ("line", "wanted"),
    [
        ("wall 40", ["40"]),
        ("wall .5", ["1/2"]),
        ("wall -3", ["-3"]),
        ("wall -3 to -2", ["[-3 to -2]"]),
        ("wall 5 1/2 in", ["11/2in"]),
        ("wall 5 1/2", ["11/2"]),
        ("wall 1/16 in", ["1/16in"]),
        ("wall 1/16in", ["1/16in"]),
        ("wall 1/2", ["(1 / 2)"]),
        ("wall a/1/2", ["((a / 1) / 2)"]),
        ("wall 30°", ["30deg"]),
        ("wall 30 ° to 45 deg", ["[30deg to 45deg]"]),
        ("wall 2 in height 3 in", ["2in", "height", "3in"]),
        ("wall 2 in in tank", ["2in", "<in tank>"]),
        ("wall in tank", ["<in tank>"]),
        ("wall in", ["in"]),
        ("wall 2 (3 + 4) 5", ["2", "(3 + 4)", "5"]),
        ("wall a - 3", ["(a - 3)"]),
        ("wall a-3", ["(a - 3)"]),
        ("wall a (-3)", ["a", "-3"]),
        ("wall 130x180", ["[130 x 180]"]),
        ("wall 130 × 180", ["[130 x 180]"]),
        ("wall 5 mm x 3 mm", ["[5mm x 3mm]"]),
        ("wall a x b", ["[a x b]"]),
        ("wall xylem 3 x3", ["xylem", "[3 x 3]"]),
        ("wall at 12 x 30", ["<at [12 x 30]>"]),
        ("wall on x.y at top", ["<on x.y>", "<at top>"]),
        ("wall min (3, a.b) max(1, 2)", ["min(3, a.b)", "max(1, 2)"]),
        ("wall #22304A mirrored", ["#22304a", "mirrored"]),
        ("wall 40 # 50", ["40"]),
        ("wall 40 #22304a9", ["40"]),
        ("wall", []),
        ("x 3 by 4", ["[3 by 4]"]),
        ("to 3", ["3"]),
        ("card 3", ["3"]),
    ],
)
def test_arguments(line, wanted):
    assert arguments(line) == wanted


@pytest.mark.parametrize(
    ("text", "wanted"),
    [
        ("a + b * c", "(a + (b * c))"),
        ("a - b - c", "((a - b) - c)"),
        ("a / b / c", "((a / b) / c)"),
        ("-a * b", "-(a * b)"),
        ("a * -b", "(a * -b)"),
        ("a - -b", "(a - -b)"),
        ("a -b", "(a - b)"),
        ("(a + b) * c", "((a + b) * c)"),
        ("sqrt(a) + sin(30°)", "(sqrt(a) + sin(30deg))"),
        ("3 * 5 1/2 in", "(3 * 11/2in)"),
    ],
)
def test_expressions(text, wanted):
    assert expression(text) == wanted


@pytest.mark.parametrize(
    ("head", "name", "size", "place"),
    [
        ("ring tank on page", "tank", None, "<on page>"),
        ("ring on page", None, None, "<on page>"),
        ("ring tank", "tank", None, None),
        ("ring 3 x 4", None, "[3 x 4]", None),
        ("ring tank 3 in x 4 in on page", "tank", "[3in x 4in]", "<on page>"),
        ("ring tank 3 x 4 in tank", "tank", "[3 x 4]", "<in tank>"),
        ("ring tank 3 x 4 in in reef.ridge", "tank", "[3 x 4in]", "<in reef.ridge>"),
        ("ring tank 3 x 4 in", "tank", "[3 x 4in]", None),
        ("ring tank (a + b) x 2 * c at top", "tank", "[(a + b) x (2 * c)]", "<at top>"),
        ("trestle small", "small", None, None),
    ],
)
def test_block_heads(head, name, size, place):
    block = read_text(f"{HEAD}{head}\n").blocks[1]
    assert (block.name and block.name.text) == name
    assert (block.size and plain(block.size)) == size
    assert (block.place and plain(block.place)) == place
    assert block.at.text == head


def test_between_names_two_panels():
    block = read_text(f"{HEAD}vfold gull between quay.left and cover.left\n  wall 3\n").blocks[1]
    assert (block.name.text, plain(block.place.target), plain(block.place.second)) == ("gull", "quay.left", "cover.left")
    assert block.place.how == "between"
    assert block.place.at.text == "between quay.left and cover.left"
    assert block.place.second.at.text == "cover.left"
    assert read_text(f"{HEAD}vfold between reef and cover.left\n").blocks[1].name is None
    sized = read_text(f"{HEAD}ring tank 3 x 4 between a.b and c.d\n").blocks[1]
    assert (plain(sized.size), plain(sized.place.second)) == ("[3 x 4]", "c.d")


def test_and_and_between_stay_words_elsewhere():
    block = read_text(f"{HEAD}reef and on spine\n  and 3\n  between 4\n").blocks[1]
    assert block.name.text == "and"
    assert [setting.word.text for setting in block.settings] == ["and", "between"]


def test_size_before_in_keeps_its_place():
    block = read_text(f"{HEAD}ring tank 3 x 4 in tank\n").blocks[1]
    assert block.size.at.text == "3 x 4"
    assert block.size.height.at.text == "4"
    assert block.place.at.text == "in tank"


# 25.4 mm to the inch by definition, so these are exact.
@pytest.mark.parametrize(
    ("unit", "length", "mm"),
    [
        ("in", "5 1/2", "139.7"),
        ("mm", "5 1/2 in", "139.7"),
        ("in", "1/16", "1.5875"),
        ("mm", "1 in + 5", "30.4"),
        ("cm", "2 * (3 - 1) / 4", "10"),
        ("pt", "72", "25.4"),
        ("mm", "-(-3)", "3"),
    ],
)
def test_lengths_become_millimetres(unit, length, mm):
    assert read_text(f'card "Tide pool"\n  units {unit}\n  step {length}\ncover 3 x 4\n').step == Fraction(mm)


def test_step_may_stand_before_units():
    assert read_text('card "Tide pool"\n  step 1/16\n  units in\ncover 3 x 4\n').step == Fraction("1.5875")


def test_mat_before_the_card_takes_its_unit():
    assert read_text('mat 10 x 20\ncard "Tide pool"\n  units cm\ncover 3 x 4\n').mats[0].height == 200


# 65 lb cover: 65 * 453.59237 g / (500 * 20 in * 26 in * 0.00064516 m2/in2), the definition of basis weight.
GLASS = Fraction(65) * Fraction("453.59237") / (500 * 520 * Fraction("0.00064516"))


@pytest.mark.parametrize(
    ("line", "gsm", "caliper"),
    [
        ("weight 216 gsm", Fraction(216), None),
        ("weight 65 lb cover", GLASS, None),
        ("weight 65 lb cover caliper 0.3", GLASS, Fraction("0.3")),
        ("caliper 0.010 in", None, Fraction("0.254")),
        ("", None, None),
    ],
)
def test_papers(line, gsm, caliper):
    (paper,) = read_text(f"{HEAD}paper glass colour #9FC6C9 {line}\n").papers
    assert (paper.colour, paper.gsm, paper.caliper) == ("#9fc6c9", gsm, caliper)


def test_practice_keeps_value_and_reason():
    (practice,) = read_text(f'{HEAD}practice tab.depth 10 because "the glue sticks are wide"\n').practices
    assert (practice.name.text, plain(practice.value)) == ("tab.depth", "10")
    assert practice.because == "the glue sticks are wide"


@pytest.mark.parametrize("operator", ["<=", ">=", "="])
def test_require(operator):
    (rule,) = read_text(f"{HEAD}require a.b {operator} 2 * c\n").requires
    assert (plain(rule.left), rule.operator, plain(rule.right)) == ("a.b", operator, "(2 * c)")
    assert rule.because is None


def test_line_ends_and_comments_change_nothing():
    def outline(text):
        blocks = read_text(text).blocks
        return [(block.keyword.text, [setting.word.text for setting in block.settings]) for block in blocks]

    commented = "# first\n\n" + TIDE_POOL.replace("\n\n", "\n   # inside\n# at the margin, #22304a\n\n")
    for other in (TIDE_POOL.replace("\n", "\r\n"), commented, "\ufeff" + TIDE_POOL, TIDE_POOL.rstrip()):
        assert outline(other) == outline(TIDE_POOL)


def test_places_are_lines_and_columns_from_one():
    ring = read_text(TIDE_POOL).blocks[2]
    assert (ring.at.line, ring.at.column, ring.at.text) == (20, 1, "ring tank on page")
    wall = ring.settings[1]
    assert (wall.at.line, wall.at.column, wall.at.text) == (22, 3, "wall   50 to 80")
    low = wall.arguments[0].low
    assert (low.at.line, low.at.column, low.at.text) == (22, 10, "50")


def test_a_file_is_read_with_its_folder(tmp_path):
    script = tmp_path / "tide-pool.card"
    script.write_bytes(b"\xef\xbb\xbf" + TIDE_POOL.replace("Tide pool", "Marée").encode())
    card = read(script)
    assert card.title == "Marée"
    assert card.source.folder == tmp_path
    assert card.source.name == str(script)


def test_all_problems_of_a_script_come_in_one_go():
    script = (
        'card "Tide pool"\n  units furlong\ncover 130 y 180\n  clear )\n  opens 180\n'
        "ring tank on\n  wall 40 to\nmat 3\n"
    )
    with pytest.raises(Refused) as refused:
        read_text(script)
    found = [(problem.at.line, problem.code) for problem in refused.value.problems]
    assert found == [
        (2, "unknown-unit"),
        (3, "syntax-error"),
        (4, "syntax-error"),
        (6, "syntax-error"),
        (7, "syntax-error"),
        (8, "syntax-error"),
    ]


def test_a_card_line_that_is_not_read_still_gives_its_unit():
    with pytest.raises(Refused) as refused:
        read_text("card Tide\n  units mm\ncover 130 x 180\nmat 300 x 300\n")
    assert [problem.code for problem in refused.value.problems] == ["syntax-error"]
