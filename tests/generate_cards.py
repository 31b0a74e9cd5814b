"""Scripts of any size from the product's own mechanisms: tents and V-folds along the spine, and V-folds astride ridges.

Numbers are invented, from a seed. `kind` is "loose" (each mechanism asks for its own least height), "tight" (shared totals:
the widths of each spread of four fill 75 % of its share of the spine, and their heights have a least mean), or "clash"
(as loose, and the widths of the first spread cannot all be had together).
"""

from __future__ import annotations

from random import Random

SHARE = 46  # mm of spine for each mechanism that stands on it
MANY, NARROW = 40, 30  # above so many mechanisms each has less, or the cover would be longer than any paper
PAPERS = ("reef", "foam", "sand")


def script(count: int, seed: int, kind: str = "loose", step: str = "0.5") -> str:
    """The script of a card of `count` mechanisms."""
    random = Random(f"{kind} {count} {seed}")
    share, least = (SHARE, 22) if count <= MANY else (NARROW, 20)
    ground: list[list[str]] = []  # names on the spine, in spreads of four
    blocks: list[str] = []
    rules: list[str] = []
    names: list[str] = []
    tents: list[str] = []
    while len(names) < count:
        name = f"m{len(names)}"
        if tents and random.random() < 0.4:
            host = tents.pop()
            blocks.append(_astride(name, host, random))
            names.append(name)
            rules.append(f"require {name}.ridge >= {random.randint(16, 24)}")
            continue
        if not ground or len(ground[-1]) == 4:
            ground.append([])
        place = sum(map(len, ground)) * share + 60
        make = random.choice((_tent, _vfold))
        blocks.append(make(name, place, random, least, roomy=kind == "tight"))
        if make is _tent:
            tents.append(name)
        ground[-1].append(name)
        names.append(name)
        rules.append(f"require {name}.height >= {random.randint(14, 34)}")
    for spread in ground:
        if kind == "tight":
            wide = [f"{name}.width" for name in spread if "  width" in blocks[names.index(name)]]
            if wide:
                most = sum(int(blocks[names.index(name.split(".")[0])].split("  width ")[1].split()[2]) for name in wide)
                rules.append(f"require {' + '.join(wide)} >= {min(share * 3 * len(wide) // 4, most - 2)}")
            rules.append(f"require {' + '.join(f'{name}.height' for name in spread)} >= {random.randint(36, 44) * len(spread)}")
    if kind == "clash":
        first = ground[0]
        rules.append(f"require {first[0]}.height + {first[-1]}.height >= 280")
    spine = sum(map(len, ground)) * share + 70
    head = [f'card "Generated {kind} {count} {seed}"', "  units mm", f"  step {step}", "",
            f"cover 150 x {spine}", "  paper night", ""]
    papers = [f"paper {paper} colour #8d7b{60 + n * 9:02x} caliper {0.22 + 0.03 * n:.2f}" for n, paper in enumerate(PAPERS)]
    wishes = [f"prefer largest {names[0]}.height", "prefer least paper"]
    mat = f"mat 320 x {max(320, spine + 20)}"
    lines = [*head, "paper night colour #1f2740 weight 216 gsm", *papers, "", mat, "", *blocks, *rules, *wishes]
    return "\n".join(lines) + "\n"


def _place(place: int, random: Random) -> str:
    return f"{place - random.randint(0, 4)} to {place + random.randint(2, 6)}"


def _tent(name: str, place: int, random: Random, least: int, roomy: bool) -> str:
    at = f"{max(3, place - 20)} to {place + 30}" if roomy else _place(place, random)
    return (f"tent {name} on spine\n  paper {random.choice(PAPERS)}\n  at {at}\n"
            f"  width {random.randint(least, least + 6)} to {random.randint(30, 60 if roomy else 36)}\n"
            "  spread 10 to 40\n  wall 20 to 100\n")


def _vfold(name: str, place: int, random: Random, least: int, roomy: bool) -> str:
    return (f"vfold {name} on spine\n  paper {random.choice(PAPERS)}\n  at {_place(place, random)}\n"
            f"  angle {random.randint(35, 50)} to {random.randint(55, 65)}\n"
            "  wing 80 to 100\n  foot 26 to 40\n  ridge 20 to 100\n")


def _astride(name: str, host: str, random: Random) -> str:
    return (f"vfold {name} on {host}.ridge\n  paper {random.choice(PAPERS)}\n  at 4 to 30\n"
            f"  angle 40 to 50\n  wing 70 to 100\n  foot 26 to 30\n  ridge 15 to 60\n")
