"""A terminal for tests: what a command writes to one, and what stands on its screen in the end."""

import os
import re
import subprocess
import sys


def on_a_terminal(*words, columns=60, code=0, **environment):
    """What Python, started with these words, writes to a pseudo-terminal as standard output and error."""
    import pty  # Unix alone has it

    ours, theirs = pty.openpty()
    env = {name: value for name, value in os.environ.items() if name not in ("NO_COLOR", "FORCE_COLOR")}
    env |= {"TERM": "xterm", "COLUMNS": str(columns), **environment}
    command = [sys.executable, *map(str, words)]
    with subprocess.Popen(command, stdout=theirs, stderr=theirs, env=env) as child:
        os.close(theirs)
        text = b""
        while True:
            try:
                piece = os.read(ours, 65536)
            except OSError:  # Linux says so when the other end is closed
                piece = b""
            if not piece:
                break
            text += piece
        assert child.wait() == code, text.decode()
    os.close(ours)
    return text.decode()


def screen(text):
    """Lines on the screen after the few codes that a bar uses: to the start, a line up, erase the line."""
    lines, row, column = [""], 0, 0
    for words, steer, argument, code in re.findall(r"([^\x1b\r\n]+)|([\r\n])|\x1b\[(\??[\d;]*)([A-Za-z])", text):
        if words:
            before = lines[row].ljust(column)
            lines[row] = before[:column] + words + before[column + len(words) :]
            column += len(words)
        elif steer == "\r":
            column = 0
        elif steer == "\n":
            row += 1
            lines.extend([""] * (row + 1 - len(lines)))
        elif code == "A":
            row -= int(argument or 1)
        elif code == "K":
            lines[row] = ""
        else:
            assert code in "mhl", f"a code that this screen does not know: {argument}{code}"
    return [line.rstrip() for line in lines]
