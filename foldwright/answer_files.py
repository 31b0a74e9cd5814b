"""The files of several answers: a script for each, written as fixed values, and the contact sheet."""

from __future__ import annotations

from pathlib import Path

from foldwright.api import fixed_script
from foldwright.contact_sheet import contact_sheet
from foldwright.emit.names import Unique, file_word
from foldwright.grammar import design as ast
from foldwright.grammar import read_text
from foldwright.other_answers import Others


def files(others: Others) -> dict[str, bytes]:
    """A script for each answer, the artwork that they use, and the contact sheet, by plain name."""
    name = Unique()
    scripts = [f"{other.letter}.card" for other in others.answers]
    out: dict[str, bytes] = {f"{name('contact-sheet')}.svg": contact_sheet(others)}
    art: dict[str, str] = {}  # as written in the script: the name of its copy
    for other, script in zip(others.answers, scripts, strict=True):
        text, used = _with_art_beside(fixed_script(other.checked), others.design, art, name)
        out |= used
        lead = f"# Answer {other.letter} of {len(scripts)} to {Path(others.design.source.name).name}"
        detail = f": {', '.join(other.words)}" if other.words else ""
        out[script] = f"{lead}{detail}.\n{text}".encode()
    return out


def _with_art_beside(text: str, design: ast.Design, names: dict[str, str], unique: Unique) -> tuple[str, dict[str, bytes]]:
    """The script with every artwork and every font named as a file beside it, and those files."""
    again, used, edits = read_text(text, design.source.name, design.source.folder), {}, []
    for block in again.blocks:
        for setting in block.settings:
            for argument in _files(setting):
                path = Path(argument.text)
                if argument.text not in names:
                    names[argument.text] = unique(file_word(path.stem)) + path.suffix.lower()
                used[names[argument.text]] = (design.source.folder / path).read_bytes()
                edits.append((argument.at.start, argument.at.end, f'"{names[argument.text]}"'))
    for start, end, new in sorted(edits, reverse=True):
        text = text[:start] + new + text[end:]
    return text, used


def _files(setting: ast.Setting) -> list[ast.Text]:
    """The texts of a line that name files: an artwork, and the font of letters."""
    texts = [(before, argument) for before, argument in zip((None, *setting.arguments), setting.arguments, strict=False)
             if isinstance(argument, ast.Text)]
    if setting.word.text == "letters":
        texts = [(before, text) for before, text in texts if isinstance(before, ast.Name) and before.text == "font"]
    return [text for _, text in texts] if setting.word.text in ("art", "letters") else []
