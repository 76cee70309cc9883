"""Sessions at the terminal as the documents show them, held to what the programs say.

In a document each `$ rimeward ...` stands at the beginning of a line, or four spaces in;
what it answers follows until the next one, or until the text goes on less far in.
"""
import shlex


class Exchange:
    """One command and the answer that the document gives."""

    def __init__(self, line, indent, command):
        self.line = line  # of the command, from 1
        self.indent = indent
        self.command = command
        self.shown = []

    @property
    def words(self):
        return shlex.split(self.command)[1:]

    @property
    def answer(self):
        return '\n'.join(self.shown).rstrip() + '\n'


def exchanges(text):
    found = []
    current = None
    for number, line in enumerate(text.splitlines(), 1):
        bare = line.lstrip(' ')
        indent = len(line) - len(bare)
        if bare.startswith('$ rimeward') and indent in (0, 4):
            current = Exchange(number, indent, bare[2:])
            found.append(current)
        elif current and (not bare or indent >= current.indent):
            current.shown.append(line[current.indent:])
        else:
            current = None
    return found


def rewritten(text, answers):
    """The document with these answers, one an exchange, in place of its own."""
    lines = text.splitlines()
    for exchange, answer in reversed(list(zip(exchanges(text), answers))):
        blank = len(exchange.shown)
        while blank and not exchange.shown[blank - 1]:
            blank -= 1
        new = [(' ' * exchange.indent + line).rstrip() for line in answer.rstrip().splitlines()]
        lines[exchange.line:exchange.line + blank] = new
    return '\n'.join(lines) + '\n'
