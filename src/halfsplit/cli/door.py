"""Which command was asked for, and how it says no.

Each command lives in a module of its own, imported only when it is asked for: starting up is most of
what a small command costs.
"""

import argparse
import difflib
import io
import os
import re
import sys
from collections.abc import Sequence
from functools import partial
from pathlib import Path
from typing import NoReturn

from halfsplit.errors import InputError, Mistake, UsageError

USAGE_EXIT = 2
"""The exit code when something was not as it should be; 0 is that all went well."""

_BEGINS_LIKE_A_NUMBER = re.compile(r"-\s*[.\d]")


class _Parser(argparse.ArgumentParser):
    """A parser that says no in our own way."""

    def error(self, message: str) -> NoReturn:
        usage = " ".join(self.format_usage().removeprefix("usage:").split())
        do = f"'{self.prog} --help' says more"
        raise UsageError([Mistake(self.prog, "HS901", message, f"it is called as: {usage}", do)])


def main(argv: Sequence[str] | None = None) -> int:
    """Run one command of the shell.

    Args:
        argv: the words after the program's name; None = those of this process.

    Returns:
        The exit code: 0, or 2 when something was not as it should be; then every mistake is on stderr.
    """
    words = list(sys.argv[1:] if argv is None else argv)
    for stream in (sys.stdout, sys.stderr):
        if isinstance(stream, io.TextIOWrapper):
            stream.reconfigure(errors="replace")  # a terminal that lacks a sign shows "?", and no crash
    try:
        _run(words)
        sys.stdout.flush()
    except InputError as error:
        for mistake in error.mistakes:
            print(mistake, file=sys.stderr)
        return USAGE_EXIT
    except BrokenPipeError:  # whoever read our output has read enough
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
    return 0


def _run(words: list[str]) -> None:
    parser, commands = _parsers()
    if words and not words[0].startswith("-") and words[0] not in commands:
        near = difflib.get_close_matches(words[0], commands, n=1)
        do = f"Did you mean '{near[0]}'? Write it so" if near else "'halfsplit --help' says what they do"
        so = f"'{words[0]}' is no command"
        raise UsageError([Mistake("halfsplit", "HS901", so, f"the commands are {', '.join(commands)}", do)])
    # What begins like a negative number is one ("-12V" too), and no option: a blank before it says so.
    asked = parser.parse_args([f" {word}" if _BEGINS_LIKE_A_NUMBER.match(word) else word for word in words])
    if asked.command == "rail":
        from halfsplit.cli.rail import show_rail  # noqa: PLC0415  only this command needs it

        show_rail(
            asked.name.strip(),
            asked.reading,
            asked.meter,
            asked.resolution,
            asked.revision,
            as_json=asked.json,
        )
    elif asked.command == "vocabulary":
        from halfsplit.cli.words import show_vocabulary  # noqa: PLC0415  only this command needs it

        show_vocabulary(as_json=asked.json)
    else:
        from halfsplit.cli.weigh import show_weighed  # noqa: PLC0415  only this command needs it
        from halfsplit.job.weigh import weigh_job  # noqa: PLC0415  only this command needs it

        show_weighed(asked.job, partial(weigh_job, leave_out=asked.leave_out), as_json=asked.json)


def _parsers() -> tuple[argparse.ArgumentParser, list[str]]:
    """Return the parser, and the names of the commands."""
    parser = _Parser(
        prog="halfsplit",
        description="Find every fault of a desktop PC for the least bench time, money and risk.",
        allow_abbrev=False,
    )
    commands = parser.add_subparsers(dest="command", metavar="COMMAND", required=True)
    weigh = commands.add_parser(
        "weigh",
        help="weigh the readings of a job file",
        description="Weigh the readings of a job file: the ladder with every run on it, how far each fault, "
        "part and set of faults is to be suspected, what moved them, and whether the readings agree.",
        allow_abbrev=False,
    )
    weigh.add_argument("job", metavar="JOB.yaml", type=Path, help="the job file")
    weigh.add_argument(
        "--leave-out", action="store_true", help="weigh it again without each reading in turn; takes some seconds"
    )
    vocabulary = commands.add_parser(
        "vocabulary",
        help="list every word that a job file may use",
        description="List every word that a job file may use, with one line each.",
        allow_abbrev=False,
    )
    rail = commands.add_parser(
        "rail",
        help="hold a measured voltage against the limits of its rail",
        description="Hold a measured voltage against the published limits of its rail.",
        epilog='example: halfsplit rail +12V 11.42 --meter "0.5%+2" --resolution 0.01',
        allow_abbrev=False,
    )
    rail.add_argument("name", metavar="NAME", help="the rail: +12V, -12V, 5V, 3.3V, 5VSB")
    rail.add_argument("reading", metavar="READING", help="what the meter shows, in volts")
    rail.add_argument("--meter", help='its accuracy, as in its manual: "0.5%%+2"')
    rail.add_argument("--resolution", help="one step of its last digit, in volts: 0.01")
    rail.add_argument("--revision", default="2.x", help="the revision that the supply was built to (2.x if left out)")
    for command in (weigh, vocabulary, rail):
        command.add_argument("--json", action="store_true", help="as JSON, for programs")
    return parser, list(commands.choices)
