"""A person at a pseudo-terminal for the guided session: reads to the prompt, types, or has the power cut."""

import os
import pty
import re
import select
import signal
import sys
import time

PROMPT = "> "
PATIENCE = 300  # seconds: a hang ends, a busy machine is waited for
_ESCAPES = re.compile(r"\x1b\[[0-9;?]*[A-Za-z]")


def plain(text):
    """Return text without what only a terminal reads."""
    return _ESCAPES.sub("", text).replace("\r", "")


class Seat:
    """One run of the program on a terminal of its own, forked so that a hundred of them cost seconds."""

    def __init__(self, words, environment=None):
        self.seen, self.code = "", None
        self.pid, self.fd = pty.fork()
        if self.pid == 0:
            _run(words, environment or {})

    def to_prompt(self, seconds=PATIENCE):
        """Return what was printed up to the next prompt, or to the end of the program."""
        return self._read(lambda text: text.endswith(PROMPT) and not text.endswith(f">{PROMPT}"), seconds)

    def to_text(self, wanted, seconds=PATIENCE):
        """Return what was printed until a text stands in it."""
        return self._read(lambda text: wanted in text, seconds)

    def to_end(self, seconds=PATIENCE):
        """Return what was printed until the program ended."""
        return self._read(lambda text: False, seconds)

    def _read(self, enough, seconds):
        text, until = "", time.monotonic() + seconds
        while not enough(plain(text)):
            if time.monotonic() > until:
                self.cut_power()  # a program left behind keeps what it was forked with, and everybody waits for it
                raise AssertionError(f"it never came: {text[-2000:]}")
            if not select.select([self.fd], [], [], 0.5)[0]:
                continue
            try:
                got = os.read(self.fd, 65536).decode(errors="replace")
            except OSError:
                got = ""
            if not got:
                self._ended()
                break
            text += got
        self.seen += text
        return plain(text)

    def type(self, line):
        self.press(line + "\n")

    def press(self, keys):
        """Press keys without Enter."""
        os.write(self.fd, keys.encode())

    def control_c(self):
        """Press Ctrl-C as late as a hand would.

        CPython looks for signals just before it waits for a line; one between the two is seen with the next key only.
        """
        time.sleep(0.3)
        self.press("\x03")

    def cut_power(self):
        os.kill(self.pid, signal.SIGKILL)
        self._ended()
        os.close(self.fd)

    def _ended(self):
        if self.code is None:
            self.code = os.waitstatus_to_exitcode(os.waitpid(self.pid, 0)[1])


def _run(words, environment):
    """Be the program: nothing of the test's own streams is left."""
    code = 70
    try:
        os.closerange(
            3, 4096
        )  # pipes of a browser that another test holds, say: it would wait for this one to end
        os.environ.update(environment)
        sys.stdin, sys.stdout, sys.stderr = (os.fdopen(n, mode, buffering=1) for n, mode in enumerate("rww"))
        from straighten.cli import main

        code = main(list(words))
        sys.stdout.flush()
    finally:
        os._exit(code)
